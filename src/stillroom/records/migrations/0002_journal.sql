-- A journal that only grows, and rules that let a correction through. Not released yet: this step may
-- still change.

CREATE TABLE journal_kind (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO journal_kind (name) VALUES 
    ('act'), ('correction'), ('undo'), ('redo'), ('import'), ('new schema'), ('name removed');

-- One line for each act, correction, undo and redo. An undone act keeps its line and gets another.
CREATE TABLE journal (
    id     INTEGER PRIMARY KEY,
    at     TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day    TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker  TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    kind   TEXT NOT NULL REFERENCES journal_kind (name),
    title  TEXT NOT NULL CHECK (length(title) BETWEEN 1 AND 2000 AND instr(title, char(0)) = 0),
    why    TEXT NOT NULL DEFAULT '' CHECK (length(why) <= 2000 AND instr(why, char(0)) = 0),
    of_id  INTEGER REFERENCES journal (id),
    CHECK (of_id < id),
    CHECK ((kind IN ('undo', 'redo')) = (of_id IS NOT NULL))
) STRICT;
CREATE INDEX journal_by_of ON journal (of_id) WHERE of_id IS NOT NULL;
CREATE INDEX journal_import ON journal (id) WHERE kind = 'import';

-- The rows that an act changed or took away, as they were and as they became; written by triggers.
CREATE TABLE journal_change (
    id         INTEGER PRIMARY KEY,
    journal_id INTEGER NOT NULL REFERENCES journal (id),
    record     TEXT NOT NULL CHECK (length(record) BETWEEN 1 AND 40 AND instr(record, char(0)) = 0),
    row_id     INTEGER NOT NULL CHECK (row_id >= 1),
    before     TEXT NOT NULL CHECK (json_valid(before)),
    after      TEXT CHECK (after IS NULL OR json_valid(after))
) STRICT;
CREATE INDEX journal_change_by_journal ON journal_change (journal_id);
CREATE INDEX journal_change_by_row ON journal_change (record, row_id);

-- The ledger's lines stay when an act is undone. What they are about may be gone then, so they hold its
-- number without a foreign key, and its name as it was.
ALTER TABLE event RENAME TO event_1;
CREATE TABLE event (
    id          INTEGER PRIMARY KEY,
    at          TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day         TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker       TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    kind        TEXT NOT NULL CHECK (length(kind) BETWEEN 1 AND 40 AND instr(kind, char(0)) = 0),
    text        TEXT NOT NULL DEFAULT '' CHECK (length(text) <= 20000 AND instr(text, char(0)) = 0),
    jar_id      INTEGER,
    tincture_id INTEGER,
    bottle_id   INTEGER,
    spirit_id   INTEGER,
    herb_id     INTEGER,
    subject     TEXT NOT NULL DEFAULT '' CHECK (length(subject) <= 400 AND instr(subject, char(0)) = 0),
    journal_id  INTEGER REFERENCES journal (id)
) STRICT;
INSERT INTO event (id, at, day, maker, kind, text, jar_id, tincture_id, bottle_id, spirit_id, herb_id, subject)
SELECT id, at, day, maker, kind, text, jar_id, tincture_id, bottle_id, spirit_id, herb_id,
       coalesce((SELECT j.code || ' ' || (SELECT h.name FROM charge_line l JOIN herb h ON h.id = l.herb_id
                                          WHERE l.jar_id = j.id ORDER BY l.id LIMIT 1)
                 FROM jar j WHERE j.id = jar_id),
                (SELECT code FROM bottle WHERE id = bottle_id),
                (SELECT code FROM tincture WHERE id = tincture_id),
                (SELECT name FROM spirit WHERE id = spirit_id),
                (SELECT name FROM herb WHERE id = herb_id), '')
FROM event_1;
DROP TABLE event_1;
CREATE INDEX event_by_jar ON event (jar_id);
CREATE INDEX event_by_bottle ON event (bottle_id);
CREATE INDEX event_by_tincture ON event (tincture_id);
CREATE INDEX event_by_journal ON event (journal_id);

-- Which line of the ledger a correction has changed.
CREATE TABLE corrected (
    id         INTEGER PRIMARY KEY,
    event_id   INTEGER NOT NULL REFERENCES event (id),
    journal_id INTEGER NOT NULL REFERENCES journal (id),
    UNIQUE (event_id, journal_id)
) STRICT;

-- The acts that are undone now, each with the line that says so.
CREATE VIEW undone AS
SELECT u.of_id AS journal_id, u.id AS by_id FROM journal u
WHERE u.kind = 'undo' AND NOT EXISTS (SELECT 1 FROM journal l WHERE l.of_id = u.of_id AND l.id > u.id);

-- The ledger without the lines of acts that are undone now.
CREATE VIEW standing AS
SELECT * FROM event WHERE journal_id IS NULL OR journal_id NOT IN (SELECT journal_id FROM undone);

-- The steps to undo were written for the tables as they were.
INSERT INTO journal (at, day, kind, title)
SELECT strftime('%Y-%m-%dT%H:%M:%f000+00:00', 'now'), date('now', 'localtime'), 'new schema',
       'Stillroom was updated: what was done before can be corrected, but no longer undone'
WHERE EXISTS (SELECT 1 FROM action);
UPDATE undo_state SET action_id = NULL, rewinding = 0;
DELETE FROM action;
ALTER TABLE action ADD COLUMN journal_id INTEGER REFERENCES journal (id);
ALTER TABLE action ADD COLUMN steps INTEGER NOT NULL DEFAULT 0 CHECK (steps >= 0);
ALTER TABLE undo_state ADD COLUMN journal_id INTEGER;
ALTER TABLE undo_state ADD COLUMN correcting INTEGER NOT NULL DEFAULT 0 CHECK (correcting IN (0, 1));

-- Whether the date was set by hand: a correction leaves it as it is then.
ALTER TABLE tincture ADD COLUMN keep_until_by_hand INTEGER NOT NULL DEFAULT 0
    CHECK (keep_until_by_hand IN (0, 1));
UPDATE tincture SET keep_until_by_hand = 1
WHERE id IN (SELECT tincture_id FROM event WHERE kind = 'keep until');

-- Whether the forecast may learn from it.
ALTER TABLE straining ADD COLUMN teaches INTEGER NOT NULL DEFAULT 1 CHECK (teaches IN (0, 1));

-- A fact changes only inside an act that the journal records: the triggers that say so for every table
-- are written by records/journal.py. What forbade changing a fact at all gives way to them.
DROP TRIGGER movement_is_kept;
DROP TRIGGER movement_stays;
DROP TRIGGER blend_part_is_kept;
DROP TRIGGER pour_is_kept;
DROP TRIGGER bottle_keeps_its_size;

-- For whom liquid was taken, which a gift had in its note. A name is one line of at most 200 characters
-- with single spaces, as the program makes it: what is anything else stays a note.
ALTER TABLE movement ADD COLUMN person TEXT NOT NULL DEFAULT ''
    CHECK (length(person) <= 200 AND instr(person, char(0)) = 0);
UPDATE movement SET person = note, note = ''
WHERE kind = 'give' AND length(note) <= 200 AND note = trim(note) AND instr(note, '  ') = 0
      AND note NOT GLOB '*[' || char(9) || '-' || char(13) || char(28) || '-' || char(31)
                        || char(133, 160, 5760, 8192) || '-' || char(8202)
                        || char(8232, 8233, 8239, 8287, 12288) || ']*';

-- These hold for every act but a correction, which changes several facts before they agree again and is
-- judged as a whole at its end.
DROP TRIGGER jar_state_moves_one_way;
CREATE TRIGGER jar_state_moves_one_way BEFORE UPDATE OF state, ended_on ON jar
WHEN OLD.state <> 'steeping' AND (NEW.state <> OLD.state OR NEW.ended_on IS NOT OLD.ended_on)
     AND NOT (SELECT rewinding OR correcting FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A jar that was strained or discarded can only be brought back by undo.');
END;

DROP TRIGGER jar_is_strained_by_a_straining;
CREATE TRIGGER jar_is_strained_by_a_straining BEFORE UPDATE OF state ON jar
WHEN NEW.state <> OLD.state AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (NEW.state = 'strained') <> EXISTS (SELECT 1 FROM straining WHERE jar_id = NEW.id)
BEGIN
    SELECT RAISE(ABORT, 'A jar is strained when there is a straining of it, and only then.');
END;

DROP TRIGGER tincture_stays_as_strained;
CREATE TRIGGER tincture_stays_as_strained BEFORE UPDATE OF volume_ml, straining_id ON tincture
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND NEW.volume_ml > (SELECT yield_ml FROM straining WHERE id = NEW.straining_id) + 0.005
BEGIN
    SELECT RAISE(ABORT, 'A tincture cannot be more than what was strained.');
END;

DROP TRIGGER tincture_covers_its_bottles;
CREATE TRIGGER tincture_covers_its_bottles BEFORE UPDATE OF volume_ml, lost_ml ON tincture
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND NEW.volume_ml - NEW.lost_ml + 0.005
         < coalesce((SELECT sum(m.volume_ml) FROM movement m JOIN bottle b ON b.id = m.bottle_id
                     WHERE b.tincture_id = NEW.id AND m.kind = 'fill'), 0)
BEGIN
    SELECT RAISE(ABORT, 'More of this tincture is in bottles than that would leave.');
END;

DROP TRIGGER spirit_covers_its_pours;
CREATE TRIGGER spirit_covers_its_pours BEFORE UPDATE OF bought_ml ON spirit
WHEN NEW.bought_ml IS NOT NULL AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND NEW.bought_ml + 0.005
         < coalesce((SELECT sum(p.volume_ml) FROM pour p WHERE p.spirit_id = NEW.id), 0)
BEGIN
    SELECT RAISE(ABORT, 'More of this spirit has been poured than that.');
END;

DROP TRIGGER movement_fits_bottle;
CREATE TRIGGER movement_fits_bottle BEFORE INSERT ON movement
WHEN (SELECT coalesce(sum(volume_ml), 0) FROM movement WHERE bottle_id = NEW.bottle_id) + NEW.volume_ml
     NOT BETWEEN -0.005 AND (SELECT size_ml FROM bottle WHERE id = NEW.bottle_id) + 0.005
     AND NOT (SELECT rewinding OR correcting FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A bottle cannot hold less than nothing or more than its size.');
END;

DROP TRIGGER fill_is_there;
CREATE TRIGGER fill_is_there BEFORE INSERT ON movement
WHEN NEW.kind = 'fill' AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT t.volume_ml - t.lost_ml
            - coalesce((SELECT sum(m.volume_ml) FROM movement m JOIN bottle b ON b.id = m.bottle_id
                        WHERE b.tincture_id = t.id AND m.kind = 'fill'), 0)
          FROM tincture t JOIN bottle b2 ON b2.tincture_id = t.id WHERE b2.id = NEW.bottle_id)
         < NEW.volume_ml - 0.005
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this tincture left to bottle.');
END;

DROP TRIGGER pour_is_in_cupboard;
CREATE TRIGGER pour_is_in_cupboard BEFORE INSERT ON pour
WHEN NEW.spirit_id IS NOT NULL AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT s.bought_ml - coalesce((SELECT sum(p.volume_ml) FROM pour p WHERE p.spirit_id = s.id), 0)
          FROM spirit s WHERE s.id = NEW.spirit_id AND s.bought_ml IS NOT NULL)
         < NEW.volume_ml - 0.005
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this spirit left in the cupboard.');
END;

-- Removing the name of a person is the only act that rewrites lines. It needs a line of its own of that
-- kind, which stays, and changes words alone: never when, what kind, or about what.
CREATE VIEW forgetting AS
SELECT l.id FROM undo_state s JOIN journal l ON l.id = s.journal_id WHERE l.kind = 'name removed';

-- The line of the act under way may still be made more exact, or go if the act comes to nothing.
CREATE TRIGGER journal_line_is_kept BEFORE UPDATE ON journal
WHEN (OLD.id, OLD.at, OLD.day, OLD.kind, OLD.of_id) IS NOT (NEW.id, NEW.at, NEW.day, NEW.kind, NEW.of_id)
     OR (OLD.id IS NOT (SELECT journal_id FROM undo_state) AND NOT EXISTS (SELECT 1 FROM forgetting))
BEGIN
    SELECT RAISE(ABORT, 'The journal only grows: no line of it changes.');
END;

CREATE TRIGGER journal_line_stays BEFORE DELETE ON journal
WHEN OLD.id IS NOT (SELECT journal_id FROM undo_state) OR OLD.kind = 'name removed'
BEGIN
    SELECT RAISE(ABORT, 'The journal only grows: no line of it is deleted.');
END;

CREATE TRIGGER journal_change_is_kept BEFORE UPDATE ON journal_change
WHEN NOT EXISTS (SELECT 1 FROM forgetting)
     OR (OLD.id, OLD.journal_id, OLD.record, OLD.row_id, OLD.after IS NULL)
        IS NOT (NEW.id, NEW.journal_id, NEW.record, NEW.row_id, NEW.after IS NULL)
BEGIN
    SELECT RAISE(ABORT, 'The journal only grows: no line of it changes.');
END;

CREATE TRIGGER journal_change_stays BEFORE DELETE ON journal_change
BEGIN
    SELECT RAISE(ABORT, 'The journal only grows: no line of it is deleted.');
END;

CREATE TRIGGER event_is_kept BEFORE UPDATE ON event
WHEN NOT EXISTS (SELECT 1 FROM forgetting)
     OR (OLD.id, OLD.at, OLD.day, OLD.jar_id, OLD.tincture_id, OLD.bottle_id, OLD.spirit_id, OLD.herb_id,
         OLD.journal_id)
        IS NOT (NEW.id, NEW.at, NEW.day, NEW.jar_id, NEW.tincture_id, NEW.bottle_id, NEW.spirit_id,
                NEW.herb_id, NEW.journal_id)
BEGIN
    SELECT RAISE(ABORT, 'The journal only grows: no line of it changes.');
END;

CREATE TRIGGER event_stays BEFORE DELETE ON event
BEGIN
    SELECT RAISE(ABORT, 'The journal only grows: no line of it is deleted.');
END;

CREATE TRIGGER corrected_is_kept BEFORE UPDATE ON corrected
BEGIN
    SELECT RAISE(ABORT, 'The journal only grows: no line of it changes.');
END;

CREATE TRIGGER corrected_stays BEFORE DELETE ON corrected
BEGIN
    SELECT RAISE(ABORT, 'The journal only grows: no line of it is deleted.');
END;

-- What was printed on labels, and what a person chose not to print again. Undo removes neither. A
-- bottle may be gone since, so a line holds its code as it was. With the text goes the way it was
-- written, to compare it with the text of today in the same units.
CREATE TABLE print_kind (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO print_kind (name) VALUES ('printed'), ('dismissed');

CREATE TABLE print_log (
    id            INTEGER PRIMARY KEY,
    at            TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day           TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker         TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    kind          TEXT NOT NULL REFERENCES print_kind (name),
    bottle        TEXT NOT NULL CHECK (length(bottle) BETWEEN 1 AND 48 AND instr(bottle, char(0)) = 0),
    text          TEXT NOT NULL CHECK (length(text) BETWEEN 1 AND 100000 AND instr(text, char(0)) = 0),
    copies        INTEGER NOT NULL CHECK (copies BETWEEN 0 AND 5000),
    units         TEXT NOT NULL CHECK (length(units) BETWEEN 1 AND 40 AND instr(units, char(0)) = 0),
    day_form      TEXT NOT NULL CHECK (length(day_form) BETWEEN 1 AND 40 AND instr(day_form, char(0)) = 0),
    decimal_comma INTEGER NOT NULL CHECK (decimal_comma IN (0, 1))
) STRICT;
CREATE INDEX print_log_by_bottle ON print_log (bottle);

CREATE TRIGGER print_line_is_kept BEFORE UPDATE ON print_log
WHEN NOT EXISTS (SELECT 1 FROM forgetting)
     OR (OLD.id, OLD.at, OLD.day, OLD.kind, OLD.copies, OLD.decimal_comma)
        IS NOT (NEW.id, NEW.at, NEW.day, NEW.kind, NEW.copies, NEW.decimal_comma)
BEGIN
    SELECT RAISE(ABORT, 'The print log only grows: no line of it changes.');
END;

CREATE TRIGGER print_line_stays BEFORE DELETE ON print_log
BEGIN
    SELECT RAISE(ABORT, 'The print log only grows: no line of it is deleted.');
END;

-- Whether a batch may be used; null where nobody asks.
CREATE TABLE batch_status (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO batch_status (name) VALUES ('waiting'), ('released'), ('rejected'), ('withdrawn');
ALTER TABLE tincture ADD COLUMN status TEXT REFERENCES batch_status (name);
CREATE INDEX tincture_by_status ON tincture (status) WHERE status IS NOT NULL;

-- A month, or the record of a batch, that changes from then on only for a reason.
CREATE TABLE closing (
    id          INTEGER PRIMARY KEY,
    month       TEXT UNIQUE CHECK (date(month || '-01', '+0 days') IS month || '-01' AND month > '0001'),
    tincture_id INTEGER UNIQUE REFERENCES tincture (id),
    at          TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day         TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker       TEXT NOT NULL CHECK (length(maker) BETWEEN 1 AND 200 AND instr(maker, char(0)) = 0),
    CHECK ((month IS NULL) <> (tincture_id IS NULL))
) STRICT;

-- Whether a part of a formula is of fresh or of dried herb; blank where either will do.
ALTER TABLE formula_part ADD COLUMN condition TEXT NOT NULL DEFAULT ''
    CHECK (condition IN ('', 'fresh', 'dried')) CHECK (herb_id IS NOT NULL OR condition = '');
DROP INDEX formula_names_a_part_once;
CREATE UNIQUE INDEX formula_names_a_part_once
    ON formula_part (formula_id, coalesce(herb_id, 0), part, condition, name);

-- What is left to bottle of each tincture: neither in bottles nor written off.
CREATE VIEW unbottled AS
SELECT t.id AS tincture_id,
       t.volume_ml - t.lost_ml
       - coalesce((SELECT sum(m.volume_ml) FROM bottle b JOIN movement m ON m.bottle_id = b.id
                   WHERE b.tincture_id = t.id AND m.kind = 'fill'), 0) AS left_ml
FROM tincture t;
