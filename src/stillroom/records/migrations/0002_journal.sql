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
CREATE INDEX journal_new_schema ON journal (id) WHERE kind = 'new schema';

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
    lot_id      INTEGER,
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
CREATE INDEX event_by_jar ON event (jar_id) WHERE jar_id IS NOT NULL;
CREATE INDEX event_by_bottle ON event (bottle_id) WHERE bottle_id IS NOT NULL;
CREATE INDEX event_by_tincture ON event (tincture_id) WHERE tincture_id IS NOT NULL;
CREATE INDEX event_by_journal ON event (journal_id) WHERE journal_id IS NOT NULL;

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
DELETE FROM undo_step;
DELETE FROM action;
ALTER TABLE action ADD COLUMN journal_id INTEGER REFERENCES journal (id);
ALTER TABLE action ADD COLUMN steps INTEGER NOT NULL DEFAULT 0 CHECK (steps >= 0);
ALTER TABLE undo_state ADD COLUMN journal_id INTEGER;
ALTER TABLE undo_state ADD COLUMN correcting INTEGER NOT NULL DEFAULT 0 CHECK (correcting IN (0, 1));

-- The words that columns may hold are rows of tables, as SQLite can't change the CHECK of a column.
CREATE TABLE jar_state (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO jar_state (name) VALUES
    ('steeping'), ('drained'), ('strained'), ('discarded');

-- What was poured on herb.
CREATE TABLE liquid_kind (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO liquid_kind (name) VALUES
    ('spirit'), ('water'), ('decoction'), ('held back'), ('tincture'), ('liquid');

-- What a lot of another liquid is.
CREATE TABLE other_liquid_kind (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO other_liquid_kind (name) VALUES
    ('glycerine'), ('vinegar'), ('honey'), ('syrup'), ('juice'), ('other');

-- How a strength is known.
CREATE TABLE known_kind (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO known_kind (name) VALUES
    ('measured'), ('calculated'), ('estimated'), ('unknown');

-- Why the liquid in a bottle became more or less; `takes` where it can only become less.
CREATE TABLE movement_kind (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0),
    takes INTEGER NOT NULL DEFAULT 0 CHECK (takes IN (0, 1))
) STRICT;
INSERT INTO movement_kind (name, takes) VALUES
    ('fill', 0), ('draw', 1), ('give', 1), ('spill', 1), ('weigh in', 0), ('count', 0),
    ('pour together', 0), ('blend', 1), ('pour on', 1), ('filtered off', 1), ('dregs', 1),
    ('evaporated', 1), ('sample', 1), ('spoiled', 1), ('discard', 1);

-- What a batch that wasn't strained is made of.
CREATE TABLE input_kind (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO input_kind (name) VALUES
    ('bottle'), ('batch'), ('spirit'), ('liquid'), ('water');

-- How liquid of a batch was lost before it was bottled.
CREATE TABLE loss_kind (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO loss_kind (name) VALUES
    ('filtered off'), ('dregs'), ('evaporated'), ('sample'), ('spilled'), ('spoiled'), ('not stated');

-- Why there is more or less of a spirit or liquid in the cupboard, pours apart.
CREATE TABLE cupboard_movement_kind (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0),
    takes INTEGER NOT NULL DEFAULT 0 CHECK (takes IN (0, 1))
) STRICT;
INSERT INTO cupboard_movement_kind (name, takes) VALUES
    ('count', 0), ('give', 1), ('spill', 1), ('evaporated', 1), ('spoiled', 1), ('discard', 1);

-- Whether a batch may be used; null where nobody asks.
CREATE TABLE batch_status (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0)
) STRICT;
INSERT INTO batch_status (name) VALUES ('waiting'), ('released'), ('rejected'), ('withdrawn');

-- The rules that speak of the tables rebuilt here, which are made again below. Those that forbade to
-- change a fact at all are not: a fact changes only inside an act that the journal records, and the
-- triggers that say so for every table are written by records/journal.py.
DROP TRIGGER jar_state_moves_one_way;
DROP TRIGGER jar_is_strained_by_a_straining;
DROP TRIGGER straining_needs_a_jar_not_discarded;
DROP TRIGGER movement_fits_bottle;
DROP TRIGGER movement_is_kept;
DROP TRIGGER movement_stays;
DROP TRIGGER blend_part_went_into_a_blend;
DROP TRIGGER blend_part_is_kept;
DROP TRIGGER tincture_was_strained;
DROP TRIGGER tincture_stays_as_strained;
DROP TRIGGER fill_is_there;
DROP TRIGGER tincture_covers_its_bottles;
DROP TRIGGER pour_is_in_cupboard;
DROP TRIGGER spirit_covers_its_pours;
DROP TRIGGER pour_is_kept;
DROP TRIGGER bottle_keeps_its_size;

-- Somebody's own sheet may leave out the part, the condition or the pressing: then they are not known.
-- What was answered for it is marked as assumed until it is confirmed.
CREATE TABLE charge_line_2 (
    id                INTEGER PRIMARY KEY,
    jar_id            INTEGER NOT NULL REFERENCES jar (id),
    herb_id           INTEGER NOT NULL REFERENCES herb (id),
    part              TEXT NOT NULL CHECK (part IN ('leaf', 'aerial parts', 'flower', 'fruit', 'seed',
                                                    'root', 'bark', 'resin', 'whole plant', 'part not known')),
    condition         TEXT NOT NULL CHECK (condition IN ('fresh', 'dried', 'condition not known')),
    mass_g            REAL CHECK (mass_g > 0 AND mass_g <= 1e6),
    water_fraction    REAL CHECK (water_fraction >= 0 AND water_fraction < 1),
    gathered_on       TEXT CHECK (date(gathered_on, '+0 days') IS gathered_on AND gathered_on > '0001'),
    origin            TEXT NOT NULL DEFAULT '' CHECK (length(origin) <= 2000 AND instr(origin, char(0)) = 0),
    part_assumed      INTEGER NOT NULL DEFAULT 0 CHECK (part_assumed IN (0, 1)),
    condition_assumed INTEGER NOT NULL DEFAULT 0 CHECK (condition_assumed IN (0, 1))
) STRICT;
INSERT INTO charge_line_2 (id, jar_id, herb_id, part, condition, mass_g, water_fraction, gathered_on, origin)
SELECT id, jar_id, herb_id, part, condition, mass_g, water_fraction, gathered_on, origin FROM charge_line;
DROP TABLE charge_line;
ALTER TABLE charge_line_2 RENAME TO charge_line;
CREATE INDEX charge_line_by_jar ON charge_line (jar_id);
CREATE INDEX charge_line_by_herb ON charge_line (herb_id);

-- Whether the forecast may learn from a straining, whether the herb is still to be pressed, and whether its
-- pressing and its day were stated.
CREATE TABLE straining_2 (
    id               INTEGER PRIMARY KEY,
    jar_id           INTEGER NOT NULL UNIQUE REFERENCES jar (id),
    strained_on      TEXT NOT NULL CHECK (date(strained_on, '+0 days') IS strained_on AND strained_on > '0001'),
    yield_ml         REAL NOT NULL CHECK (yield_ml > 0 AND yield_ml <= 1e6),
    pressing         TEXT NOT NULL CHECK (pressing IN ('drained', 'squeezed', 'pressed', 'pressing not known')),
    marc_g           REAL CHECK (marc_g > 0 AND marc_g <= 1e6),
    measured_abv     REAL CHECK (measured_abv >= 0 AND measured_abv <= 100),
    liquid_ml        REAL CHECK (liquid_ml > 0 AND liquid_ml <= 1e9),
    expected_ml      REAL CHECK (expected_ml >= 0 AND expected_ml <= 1e9),
    confirmed        INTEGER NOT NULL DEFAULT 0 CHECK (confirmed IN (0, 1)),
    note             TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0),
    teaches          INTEGER NOT NULL DEFAULT 1 CHECK (teaches IN (0, 1)),
    more             INTEGER NOT NULL DEFAULT 0 CHECK (more IN (0, 1)),
    pressing_assumed INTEGER NOT NULL DEFAULT 0 CHECK (pressing_assumed IN (0, 1)),
    day_by           TEXT NOT NULL DEFAULT 'stated' CHECK (day_by IN ('stated', 'assumed', 'not known'))
) STRICT;
INSERT INTO straining_2 (id, jar_id, strained_on, yield_ml, pressing, marc_g, measured_abv, liquid_ml,
                         expected_ml, confirmed, note)
SELECT id, jar_id, strained_on, yield_ml, pressing, marc_g, measured_abv, liquid_ml, expected_ml,
       confirmed, note
FROM straining;
DROP TABLE straining;
ALTER TABLE straining_2 RENAME TO straining;

-- A jar may be drained with the pressing still to come, and filled from the marc of another.
CREATE TABLE jar_2 (
    id             INTEGER PRIMARY KEY,
    code           TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40 AND instr(code, char(0)) = 0),
    shelf_id       INTEGER NOT NULL REFERENCES shelf (id),
    place          INTEGER NOT NULL CHECK (place >= 1),
    simmered       INTEGER NOT NULL DEFAULT 0 CHECK (simmered IN (0, 1)),
    filled_on      TEXT NOT NULL CHECK (date(filled_on, '+0 days') IS filled_on AND filled_on > '0001'),
    strain_on      TEXT NOT NULL CHECK (date(strain_on, '+0 days') IS strain_on AND strain_on > '0001'),
    shakes_per_day INTEGER NOT NULL DEFAULT 1 CHECK (shakes_per_day BETWEEN 0 AND 9),
    capacity_ml    REAL CHECK (capacity_ml > 0 AND capacity_ml <= 1e6),
    covered        INTEGER NOT NULL DEFAULT 1 CHECK (covered IN (0, 1)),
    state          TEXT NOT NULL DEFAULT 'steeping' REFERENCES jar_state (name),
    ended_on       TEXT CHECK (date(ended_on, '+0 days') IS ended_on AND ended_on > '0001'),
    note           TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0),
    marc_of_id     INTEGER REFERENCES jar (id) CHECK (marc_of_id <> id),
    CHECK (strain_on >= filled_on),
    CHECK ((state IN ('steeping', 'drained')) = (ended_on IS NULL)),
    CHECK (ended_on IS NULL OR ended_on >= filled_on)
) STRICT;
INSERT INTO jar_2 (id, code, shelf_id, place, simmered, filled_on, strain_on, shakes_per_day, capacity_ml,
                   covered, state, ended_on, note)
SELECT id, code, shelf_id, place, simmered, filled_on, strain_on, shakes_per_day, capacity_ml,
       covered, state, ended_on, note
FROM jar;
DROP TABLE jar;
ALTER TABLE jar_2 RENAME TO jar;
CREATE INDEX jar_by_shelf ON jar (shelf_id, place);
CREATE INDEX jar_by_marc ON jar (marc_of_id) WHERE marc_of_id IS NOT NULL;

-- Whether the date was set by hand: a correction leaves it as it is then.
CREATE TABLE tincture_2 (
    id                 INTEGER PRIMARY KEY,
    code               TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40 AND instr(code, char(0)) = 0),
    name               TEXT NOT NULL DEFAULT '' CHECK (length(name) <= 200 AND instr(name, char(0)) = 0),
    straining_id       INTEGER UNIQUE REFERENCES straining (id),
    made_on            TEXT NOT NULL CHECK (date(made_on, '+0 days') IS made_on AND made_on > '0001'),
    volume_ml          REAL NOT NULL CHECK (volume_ml > 0 AND volume_ml <= 1e6),
    strength_abv       REAL CHECK (strength_abv >= 0 AND strength_abv <= 100),
    strength_by        TEXT NOT NULL DEFAULT 'unknown' REFERENCES known_kind (name),
    ratio              REAL CHECK (ratio > 0 AND ratio <= 1e9),
    keep_until         TEXT CHECK (date(keep_until, '+0 days') IS keep_until AND keep_until > '0001'),
    lost_ml            REAL NOT NULL DEFAULT 0 CHECK (lost_ml >= 0),
    note               TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0),
    keep_until_by_hand INTEGER NOT NULL DEFAULT 0 CHECK (keep_until_by_hand IN (0, 1)),
    status             TEXT REFERENCES batch_status (name),
    CHECK ((strength_abv IS NULL) = (strength_by = 'unknown')),
    CHECK (lost_ml <= volume_ml + 0.005)
) STRICT;
INSERT INTO tincture_2 (id, code, name, straining_id, made_on, volume_ml, strength_abv, strength_by, ratio,
                        keep_until, lost_ml, note, keep_until_by_hand)
SELECT id, code, name, straining_id, made_on, volume_ml, strength_abv, strength_by, ratio,
       keep_until, lost_ml, note,
       id IN (SELECT tincture_id FROM event WHERE kind = 'keep until')
FROM tincture;
DROP TABLE tincture;
ALTER TABLE tincture_2 RENAME TO tincture;
CREATE INDEX tincture_by_status ON tincture (status) WHERE status IS NOT NULL;

-- For whom liquid was taken, which a gift had in its note. A name is one line of at most 200 characters
-- with single spaces, as the program makes it: what is anything else stays a note.
CREATE TABLE movement_2 (
    id        INTEGER PRIMARY KEY,
    bottle_id INTEGER NOT NULL REFERENCES bottle (id),
    volume_ml REAL NOT NULL CHECK (volume_ml <> 0 AND abs(volume_ml) <= 1e6),
    kind      TEXT NOT NULL REFERENCES movement_kind (name),
    at        TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day       TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker     TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    note      TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 2000 AND instr(note, char(0)) = 0),
    person    TEXT NOT NULL DEFAULT '' CHECK (length(person) <= 200 AND instr(person, char(0)) = 0),
    CHECK (kind <> 'fill' OR volume_ml > 0)
) STRICT;
INSERT INTO movement_2 (id, bottle_id, volume_ml, kind, at, day, maker, note)
SELECT id, bottle_id, volume_ml, kind, at, day, maker, note FROM movement;
DROP TABLE movement;
ALTER TABLE movement_2 RENAME TO movement;
UPDATE movement SET person = note, note = ''
WHERE kind = 'give' AND length(note) <= 200 AND note = trim(note) AND instr(note, '  ') = 0
      AND note NOT GLOB '*[' || char(9) || '-' || char(13) || char(28) || '-' || char(31)
                        || char(133, 160, 5760, 8192) || '-' || char(8202)
                        || char(8232, 8233, 8239, 8287, 12288) || ']*';
CREATE INDEX movement_by_bottle ON movement (bottle_id);
CREATE INDEX movement_by_day ON movement (day);
CREATE INDEX movement_fills ON movement (bottle_id, volume_ml) WHERE kind = 'fill';

-- The cupboard: another lot of the same spirit has another code, and other liquids are there beside it.
ALTER TABLE spirit ADD COLUMN lot TEXT NOT NULL DEFAULT ''
    CHECK (length(lot) <= 2000 AND instr(lot, char(0)) = 0);
ALTER TABLE spirit ADD COLUMN code TEXT CHECK (length(code) BETWEEN 1 AND 40 AND instr(code, char(0)) = 0);
ALTER TABLE spirit ADD COLUMN density_g_per_ml REAL CHECK (density_g_per_ml BETWEEN 0.5 AND 2.5);
CREATE UNIQUE INDEX spirit_by_code ON spirit (code) WHERE code IS NOT NULL;

CREATE TABLE liquid (
    id               INTEGER PRIMARY KEY,
    name             TEXT NOT NULL CHECK (length(trim(name)) BETWEEN 1 AND 200 AND instr(name, char(0)) = 0),
    kind             TEXT NOT NULL REFERENCES other_liquid_kind (name),
    density_g_per_ml REAL NOT NULL CHECK (density_g_per_ml BETWEEN 0.5 AND 2.5),
    density_source   TEXT NOT NULL DEFAULT ''
                     CHECK (length(density_source) <= 2000 AND instr(density_source, char(0)) = 0),
    acidity          REAL CHECK (acidity >= 0 AND acidity <= 100),
    glycerol         REAL CHECK (glycerol >= 0 AND glycerol <= 100),
    bought_ml        REAL CHECK (bought_ml > 0 AND bought_ml <= 1e9),
    price            REAL CHECK (price >= 0 AND price <= 1e9),
    bought_on        TEXT CHECK (date(bought_on, '+0 days') IS bought_on AND bought_on > '0001'),
    origin           TEXT NOT NULL DEFAULT '' CHECK (length(origin) <= 2000 AND instr(origin, char(0)) = 0),
    lot              TEXT NOT NULL DEFAULT '' CHECK (length(lot) <= 2000 AND instr(lot, char(0)) = 0),
    code             TEXT CHECK (length(code) BETWEEN 1 AND 40 AND instr(code, char(0)) = 0),
    note             TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0)
) STRICT;
CREATE UNIQUE INDEX liquid_by_code ON liquid (code) WHERE code IS NOT NULL;

-- What a spirit or liquid in the cupboard gains or loses other than by being poured.
CREATE TABLE cupboard_movement (
    id        INTEGER PRIMARY KEY,
    spirit_id INTEGER REFERENCES spirit (id),
    liquid_id INTEGER REFERENCES liquid (id),
    volume_ml REAL NOT NULL CHECK (volume_ml <> 0 AND abs(volume_ml) <= 1e9),
    kind      TEXT NOT NULL REFERENCES cupboard_movement_kind (name),
    at        TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day       TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker     TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    person    TEXT NOT NULL DEFAULT '' CHECK (length(person) <= 200 AND instr(person, char(0)) = 0),
    note      TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 2000 AND instr(note, char(0)) = 0),
    CHECK ((spirit_id IS NULL) <> (liquid_id IS NULL))
) STRICT;
CREATE INDEX cupboard_movement_by_spirit ON cupboard_movement (spirit_id) WHERE spirit_id IS NOT NULL;
CREATE INDEX cupboard_movement_by_liquid ON cupboard_movement (liquid_id) WHERE liquid_id IS NOT NULL;

-- A tincture may go on herb, out of a bottle (by a movement) or out of what waits to be bottled (source).
CREATE TABLE pour_2 (
    id           INTEGER PRIMARY KEY,
    jar_id       INTEGER NOT NULL REFERENCES jar (id),
    kind         TEXT NOT NULL REFERENCES liquid_kind (name),
    spirit_id    INTEGER REFERENCES spirit (id),
    liquid_id    INTEGER REFERENCES liquid (id),
    movement_id  INTEGER UNIQUE REFERENCES movement (id),
    source_id    INTEGER REFERENCES tincture (id),
    volume_ml    REAL NOT NULL CHECK (volume_ml > 0 AND volume_ml <= 1e6),
    strength_abv REAL CHECK (strength_abv >= 0 AND strength_abv <= 100),
    poured_on    TEXT NOT NULL CHECK (date(poured_on, '+0 days') IS poured_on AND poured_on > '0001'),
    CHECK (kind <> 'spirit' OR strength_abv > 0),
    CHECK (kind NOT IN ('water', 'decoction', 'liquid') OR strength_abv = 0),
    CHECK (strength_abv IS NOT NULL OR kind IN ('held back', 'tincture')),
    CHECK (spirit_id IS NULL OR kind = 'spirit'),
    CHECK ((liquid_id IS NOT NULL) = (kind = 'liquid')),
    CHECK ((movement_id IS NOT NULL) + (source_id IS NOT NULL) = (kind = 'tincture'))
) STRICT;
INSERT INTO pour_2 (id, jar_id, kind, spirit_id, volume_ml, strength_abv, poured_on)
SELECT id, jar_id, kind, spirit_id, volume_ml, strength_abv, poured_on FROM pour;
DROP TABLE pour;
ALTER TABLE pour_2 RENAME TO pour;
CREATE INDEX pour_by_jar ON pour (jar_id);
CREATE INDEX pour_by_spirit ON pour (spirit_id);
CREATE INDEX pour_by_liquid ON pour (liquid_id) WHERE liquid_id IS NOT NULL;
CREATE INDEX pour_by_source ON pour (source_id) WHERE source_id IS NOT NULL;

-- What went into a batch that wasn't strained. The movement out of a bottle holds how much.
CREATE TABLE batch_input (
    id           INTEGER PRIMARY KEY,
    tincture_id  INTEGER NOT NULL REFERENCES tincture (id),
    kind         TEXT NOT NULL REFERENCES input_kind (name),
    movement_id  INTEGER UNIQUE REFERENCES movement (id),
    source_id    INTEGER REFERENCES tincture (id) CHECK (source_id <> tincture_id),
    spirit_id    INTEGER REFERENCES spirit (id),
    liquid_id    INTEGER REFERENCES liquid (id),
    volume_ml    REAL CHECK (volume_ml > 0 AND volume_ml <= 1e6),
    strength_abv REAL CHECK (strength_abv > 0 AND strength_abv <= 100),
    CHECK ((movement_id IS NOT NULL) = (kind = 'bottle')),
    CHECK ((source_id IS NOT NULL) = (kind = 'batch')),
    CHECK (spirit_id IS NULL OR kind = 'spirit'),
    CHECK ((liquid_id IS NOT NULL) = (kind = 'liquid')),
    CHECK ((volume_ml IS NULL) = (kind = 'bottle')),
    CHECK ((strength_abv IS NOT NULL) = (kind = 'spirit'))
) STRICT;
INSERT INTO batch_input (id, tincture_id, kind, movement_id)
SELECT id, tincture_id, 'bottle', movement_id FROM blend_part;
DROP TABLE blend_part;
CREATE INDEX batch_input_by_tincture ON batch_input (tincture_id);
CREATE INDEX batch_input_by_source ON batch_input (source_id) WHERE source_id IS NOT NULL;
CREATE INDEX batch_input_by_spirit ON batch_input (spirit_id) WHERE spirit_id IS NOT NULL;
CREATE INDEX batch_input_by_liquid ON batch_input (liquid_id) WHERE liquid_id IS NOT NULL;

-- Liquid lost before it was bottled. The day of an old loss is that of the last bottling, where there was
-- one: it was written off then.
CREATE TABLE loss (
    id          INTEGER PRIMARY KEY,
    tincture_id INTEGER NOT NULL REFERENCES tincture (id),
    kind        TEXT NOT NULL REFERENCES loss_kind (name),
    volume_ml   REAL NOT NULL CHECK (volume_ml > 0 AND volume_ml <= 1e6),
    at          TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day         TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker       TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    note        TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 2000 AND instr(note, char(0)) = 0)
) STRICT;
CREATE INDEX loss_by_tincture ON loss (tincture_id);
INSERT INTO loss (tincture_id, kind, volume_ml, at, day)
SELECT id, 'not stated', lost_ml, day || 'T12:00:00.000000+00:00', day
FROM (SELECT id, lost_ml, coalesce((SELECT max(filled_on) FROM bottle WHERE tincture_id = t.id), made_on) AS day
      FROM tincture t WHERE lost_ml > 0);

-- What came back of liquid that was drawn or given. It is in no bottle again.
CREATE TABLE returned (
    id        INTEGER PRIMARY KEY,
    bottle_id INTEGER NOT NULL REFERENCES bottle (id),
    volume_ml REAL NOT NULL CHECK (volume_ml > 0 AND volume_ml <= 1e6),
    at        TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day       TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker     TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    person    TEXT NOT NULL DEFAULT '' CHECK (length(person) <= 200 AND instr(person, char(0)) = 0),
    note      TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 2000 AND instr(note, char(0)) = 0)
) STRICT;
CREATE INDEX returned_by_bottle ON returned (bottle_id);

-- What is left to bottle of each tincture: neither lost, in bottles, in other batches nor poured on herb.
CREATE VIEW unbottled AS
SELECT t.id AS tincture_id,
       t.volume_ml - t.lost_ml
       - coalesce((SELECT sum(m.volume_ml) FROM bottle b JOIN movement m ON m.bottle_id = b.id
                   WHERE b.tincture_id = t.id AND m.kind = 'fill'), 0)
       - coalesce((SELECT sum(i.volume_ml) FROM batch_input i WHERE i.source_id = t.id), 0)
       - coalesce((SELECT sum(p.volume_ml) FROM pour p WHERE p.source_id = t.id), 0) AS left_ml
FROM tincture t;

-- What is left of each spirit and liquid in the cupboard; null where nobody counts it.
CREATE VIEW spirit_left AS
SELECT s.id AS spirit_id,
       s.bought_ml
       + coalesce((SELECT sum(c.volume_ml) FROM cupboard_movement c WHERE c.spirit_id = s.id), 0)
       - coalesce((SELECT sum(p.volume_ml) FROM pour p WHERE p.spirit_id = s.id), 0)
       - coalesce((SELECT sum(i.volume_ml) FROM batch_input i WHERE i.spirit_id = s.id), 0) AS left_ml
FROM spirit s;

CREATE VIEW liquid_left AS
SELECT l.id AS liquid_id,
       l.bought_ml
       + coalesce((SELECT sum(c.volume_ml) FROM cupboard_movement c WHERE c.liquid_id = l.id), 0)
       - coalesce((SELECT sum(p.volume_ml) FROM pour p WHERE p.liquid_id = l.id), 0)
       - coalesce((SELECT sum(i.volume_ml) FROM batch_input i WHERE i.liquid_id = l.id), 0) AS left_ml
FROM liquid l;

-- What went from each tincture into another (`to_id`), some of it over the herb of a jar (`jar_id`; while
-- that jar steeps there is no tincture yet): out of a bottle, out of what waited, or held back by the marc.
CREATE VIEW flow AS
SELECT b.tincture_id AS from_id, i.tincture_id AS to_id, NULL AS jar_id, -m.volume_ml AS volume_ml,
       'bottle' AS kind, m.bottle_id, m.id AS movement_id, i.id AS input_id, NULL AS pour_id
FROM batch_input i JOIN movement m ON m.id = i.movement_id JOIN bottle b ON b.id = m.bottle_id
UNION ALL
SELECT i.source_id, i.tincture_id, NULL, i.volume_ml, 'batch', NULL, NULL, i.id, NULL
FROM batch_input i WHERE i.source_id IS NOT NULL
UNION ALL
SELECT b.tincture_id, t.id, p.jar_id, p.volume_ml, 'bottle', m.bottle_id, m.id, NULL, p.id
FROM pour p JOIN movement m ON m.id = p.movement_id JOIN bottle b ON b.id = m.bottle_id
LEFT JOIN straining s ON s.jar_id = p.jar_id LEFT JOIN tincture t ON t.straining_id = s.id
UNION ALL
SELECT p.source_id, t.id, p.jar_id, p.volume_ml, 'batch', NULL, NULL, NULL, p.id
FROM pour p
LEFT JOIN straining s ON s.jar_id = p.jar_id LEFT JOIN tincture t ON t.straining_id = s.id
WHERE p.source_id IS NOT NULL
UNION ALL
SELECT held.id, t.id, p.jar_id, p.volume_ml, 'held back', NULL, NULL, NULL, p.id
FROM jar j JOIN pour p ON p.jar_id = j.id AND p.kind = 'held back'
JOIN straining first ON first.jar_id = j.marc_of_id JOIN tincture held ON held.straining_id = first.id
LEFT JOIN straining s ON s.jar_id = p.jar_id LEFT JOIN tincture t ON t.straining_id = s.id
WHERE j.marc_of_id IS NOT NULL;

-- A jar leaves the steep once, and only undo or a correction brings it back. This and most of what
-- follows hold for every act but a correction, which changes several facts before they agree again and
-- is judged as a whole at its end.
CREATE TRIGGER jar_state_moves_one_way BEFORE UPDATE OF state, ended_on ON jar
WHEN OLD.state NOT IN ('steeping', 'drained')
     AND (NEW.state <> OLD.state OR NEW.ended_on IS NOT OLD.ended_on)
     AND NOT (SELECT rewinding OR correcting FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A jar that was strained or discarded can only be brought back by undo.');
END;

CREATE TRIGGER jar_is_strained_by_a_straining BEFORE UPDATE OF state ON jar
WHEN NEW.state <> OLD.state AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (NEW.state IN ('drained', 'strained')) <> EXISTS (SELECT 1 FROM straining WHERE jar_id = NEW.id)
BEGIN
    SELECT RAISE(ABORT, 'A jar is strained when there is a straining of it, and only then.');
END;

CREATE TRIGGER straining_needs_a_jar_not_discarded BEFORE INSERT ON straining
WHEN (SELECT state FROM jar WHERE id = NEW.jar_id) = 'discarded'
     AND NOT (SELECT rewinding FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A jar that was discarded cannot be strained.');
END;

-- What was bottled, lost and used up never exceeds what was strained or put together.
CREATE TRIGGER tincture_was_strained BEFORE INSERT ON tincture
WHEN NOT (SELECT rewinding FROM undo_state)
     AND NEW.volume_ml > (SELECT yield_ml FROM straining WHERE id = NEW.straining_id) + 0.005
BEGIN
    SELECT RAISE(ABORT, 'A tincture cannot be more than what was strained.');
END;

CREATE TRIGGER tincture_stays_as_strained BEFORE UPDATE OF volume_ml, straining_id ON tincture
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND NEW.volume_ml > (SELECT yield_ml FROM straining WHERE id = NEW.straining_id) + 0.005
BEGIN
    SELECT RAISE(ABORT, 'A tincture cannot be more than what was strained.');
END;

CREATE TRIGGER tincture_covers_its_bottles AFTER UPDATE OF volume_ml, lost_ml ON tincture
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT left_ml FROM unbottled WHERE tincture_id = NEW.id) < -0.005
BEGIN
    SELECT RAISE(ABORT, 'More of this tincture is in bottles than that would leave.');
END;

CREATE TRIGGER fill_is_there BEFORE INSERT ON movement
WHEN NEW.kind = 'fill' AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT u.left_ml FROM unbottled u JOIN bottle b ON b.tincture_id = u.tincture_id
          WHERE b.id = NEW.bottle_id) < NEW.volume_ml - 0.005
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this tincture left to bottle.');
END;

CREATE TRIGGER input_waits_unbottled BEFORE INSERT ON batch_input
WHEN NEW.source_id IS NOT NULL AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT left_ml FROM unbottled WHERE tincture_id = NEW.source_id) < NEW.volume_ml - 0.005
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this tincture left to bottle.');
END;

CREATE TRIGGER pour_waits_unbottled BEFORE INSERT ON pour
WHEN NEW.source_id IS NOT NULL AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT left_ml FROM unbottled WHERE tincture_id = NEW.source_id) < NEW.volume_ml - 0.005
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this tincture left to bottle.');
END;

-- Contents of a bottle: the sum of its movements, never below nothing nor above its size.
CREATE TRIGGER movement_fits_bottle BEFORE INSERT ON movement
WHEN (SELECT coalesce(sum(volume_ml), 0) FROM movement WHERE bottle_id = NEW.bottle_id) + NEW.volume_ml
     NOT BETWEEN -0.005 AND (SELECT size_ml FROM bottle WHERE id = NEW.bottle_id) + 0.005
     AND NOT (SELECT rewinding OR correcting FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A bottle cannot hold less than nothing or more than its size.');
END;

CREATE TRIGGER movement_goes_its_way BEFORE INSERT ON movement
WHEN NEW.volume_ml > 0 AND (SELECT takes FROM movement_kind WHERE name = NEW.kind)
BEGIN
    SELECT RAISE(ABORT, 'This kind of movement only takes liquid out.');
END;

CREATE TRIGGER movement_still_goes_its_way BEFORE UPDATE OF volume_ml, kind ON movement
WHEN NEW.volume_ml > 0 AND (SELECT takes FROM movement_kind WHERE name = NEW.kind)
BEGIN
    SELECT RAISE(ABORT, 'This kind of movement only takes liquid out.');
END;

CREATE TRIGGER input_went_into_a_batch BEFORE INSERT ON batch_input
WHEN NOT (SELECT rewinding FROM undo_state)
     AND (EXISTS (SELECT 1 FROM tincture WHERE id = NEW.tincture_id AND straining_id IS NOT NULL)
          OR (NEW.movement_id IS NOT NULL
              AND NOT EXISTS (SELECT 1 FROM movement m JOIN bottle b ON b.id = m.bottle_id
                              WHERE m.id = NEW.movement_id AND m.kind = 'blend'
                                    AND b.tincture_id <> NEW.tincture_id)))
BEGIN
    SELECT RAISE(ABORT, 'A part of a blend is drawn for it from a bottle of another tincture.');
END;

CREATE TRIGGER pour_was_drawn BEFORE INSERT ON pour
WHEN NEW.movement_id IS NOT NULL AND NOT (SELECT rewinding FROM undo_state)
     AND (SELECT kind FROM movement WHERE id = NEW.movement_id) IS NOT 'pour on'
BEGIN
    SELECT RAISE(ABORT, 'A tincture poured on herb is drawn for it from its bottle.');
END;

-- What is used of a spirit or liquid never exceeds what was bought, where the cupboard keeps count.
CREATE TRIGGER pour_is_in_cupboard BEFORE INSERT ON pour
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND ((SELECT left_ml FROM spirit_left WHERE spirit_id = NEW.spirit_id) < NEW.volume_ml - 0.005
          OR (SELECT left_ml FROM liquid_left WHERE liquid_id = NEW.liquid_id) < NEW.volume_ml - 0.005)
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this spirit left in the cupboard.');
END;

CREATE TRIGGER input_is_in_cupboard BEFORE INSERT ON batch_input
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND ((SELECT left_ml FROM spirit_left WHERE spirit_id = NEW.spirit_id) < NEW.volume_ml - 0.005
          OR (SELECT left_ml FROM liquid_left WHERE liquid_id = NEW.liquid_id) < NEW.volume_ml - 0.005)
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this spirit left in the cupboard.');
END;

CREATE TRIGGER cupboard_movement_is_there BEFORE INSERT ON cupboard_movement
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND ((SELECT left_ml FROM spirit_left WHERE spirit_id = NEW.spirit_id) < -NEW.volume_ml - 0.005
          OR (SELECT left_ml FROM liquid_left WHERE liquid_id = NEW.liquid_id) < -NEW.volume_ml - 0.005)
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this spirit left in the cupboard.');
END;

CREATE TRIGGER cupboard_movement_goes_its_way BEFORE INSERT ON cupboard_movement
WHEN NEW.volume_ml > 0 AND (SELECT takes FROM cupboard_movement_kind WHERE name = NEW.kind)
BEGIN
    SELECT RAISE(ABORT, 'This kind of movement only takes liquid out.');
END;

CREATE TRIGGER cupboard_movement_still_goes_its_way BEFORE UPDATE OF volume_ml, kind ON cupboard_movement
WHEN NEW.volume_ml > 0 AND (SELECT takes FROM cupboard_movement_kind WHERE name = NEW.kind)
BEGIN
    SELECT RAISE(ABORT, 'This kind of movement only takes liquid out.');
END;

CREATE TRIGGER spirit_covers_its_pours AFTER UPDATE OF bought_ml ON spirit
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT left_ml FROM spirit_left WHERE spirit_id = NEW.id) < -0.005
BEGIN
    SELECT RAISE(ABORT, 'More of this spirit has been poured than that.');
END;

CREATE TRIGGER liquid_covers_its_pours AFTER UPDATE OF bought_ml ON liquid
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT left_ml FROM liquid_left WHERE liquid_id = NEW.id) < -0.005
BEGIN
    SELECT RAISE(ABORT, 'More of this liquid has been poured than that.');
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
         OLD.lot_id, OLD.journal_id)
        IS NOT (NEW.id, NEW.at, NEW.day, NEW.jar_id, NEW.tincture_id, NEW.bottle_id, NEW.spirit_id,
                NEW.herb_id, NEW.lot_id, NEW.journal_id)
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
    decimal_comma INTEGER NOT NULL CHECK (decimal_comma IN (0, 1)),
    language      TEXT NOT NULL DEFAULT 'en'
              CHECK (length(language) BETWEEN 1 AND 40 AND instr(language, char(0)) = 0)
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

-- A straining in several goes, such as drained today and pressed tomorrow: the straining holds the sum,
-- the last day and the last method. What came in one go is in no line of its own.
CREATE TABLE straining_go (
    id           INTEGER PRIMARY KEY,
    straining_id INTEGER NOT NULL REFERENCES straining (id),
    strained_on  TEXT NOT NULL CHECK (date(strained_on, '+0 days') IS strained_on AND strained_on > '0001'),
    pressing     TEXT NOT NULL CHECK (pressing IN ('drained', 'squeezed', 'pressed', 'pressing not known')),
    yield_ml     REAL NOT NULL CHECK (yield_ml > 0 AND yield_ml <= 1e6),
    maker        TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    note         TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0)
) STRICT;
CREATE INDEX straining_go_by_straining ON straining_go (straining_id);

-- Herbs in store. What a lot holds is its weight and its movements, less what went into jars and what of it
-- was laid out as a lot of its own. A movement of some, not weighed, has no mass.
CREATE TABLE herb_movement_kind (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 40 AND instr(name, char(0)) = 0),
    takes INTEGER NOT NULL CHECK (takes IN (0, 1))
) STRICT;
INSERT INTO herb_movement_kind (name, takes) VALUES
    ('weigh in', 0), ('dried', 1), ('give', 1), ('discard', 1), ('spoiled', 1), ('used up', 1);

CREATE TABLE herb_lot (
    id             INTEGER PRIMARY KEY,
    code           TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40 AND instr(code, char(0)) = 0),
    herb_id        INTEGER NOT NULL REFERENCES herb (id),
    part           TEXT NOT NULL CHECK (part IN ('leaf', 'aerial parts', 'flower', 'fruit', 'seed',
                                                 'root', 'bark', 'resin', 'whole plant')),
    condition      TEXT NOT NULL CHECK (condition IN ('fresh', 'dried')),
    came           TEXT NOT NULL CHECK (came IN ('gathered', 'bought')),
    got_on         TEXT NOT NULL CHECK (date(got_on, '+0 days') IS got_on AND got_on > '0001'),
    origin         TEXT NOT NULL DEFAULT '' CHECK (length(origin) <= 1500 AND instr(origin, char(0)) = 0),
    seller_lot     TEXT NOT NULL DEFAULT '' CHECK (length(seller_lot) <= 200 AND instr(seller_lot, char(0)) = 0),
    mass_g         REAL CHECK (mass_g > 0 AND mass_g <= 1e6),
    price          REAL CHECK (price >= 0 AND price <= 1e9),
    water_fraction REAL CHECK (water_fraction >= 0 AND water_fraction < 1),
    laid_out_on    TEXT CHECK (date(laid_out_on, '+0 days') IS laid_out_on AND laid_out_on > '0001'),
    laid_out_g     REAL CHECK (laid_out_g > 0 AND laid_out_g <= 1e6),
    dry_on         TEXT CHECK (date(dry_on, '+0 days') IS dry_on AND dry_on > '0001'),
    dry_g          REAL CHECK (dry_g > 0 AND dry_g <= 1e6),
    from_lot_id    INTEGER REFERENCES herb_lot (id),
    used_up_on     TEXT CHECK (date(used_up_on, '+0 days') IS used_up_on AND used_up_on > '0001'),
    note           TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0),
    CHECK (laid_out_on >= got_on),
    CHECK (laid_out_g IS NULL OR laid_out_on IS NOT NULL),
    CHECK (dry_on IS NULL OR dry_on >= coalesce(laid_out_on, '9999-99')),
    CHECK (dry_g IS NULL OR dry_on IS NOT NULL),
    CHECK (laid_out_on IS NULL OR (condition = 'dried') = (dry_on IS NOT NULL)),
    CHECK (dry_g < laid_out_g),
    CHECK (used_up_on >= got_on),
    CHECK (from_lot_id <> id)
) STRICT;
CREATE INDEX herb_lot_by_herb ON herb_lot (herb_id);
CREATE INDEX herb_lot_by_from ON herb_lot (from_lot_id) WHERE from_lot_id IS NOT NULL;

CREATE TABLE herb_movement (
    id     INTEGER PRIMARY KEY,
    lot_id INTEGER NOT NULL REFERENCES herb_lot (id),
    mass_g REAL CHECK (abs(mass_g) <= 1e6),
    kind   TEXT NOT NULL REFERENCES herb_movement_kind (name),
    at     TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day    TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker  TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    person TEXT NOT NULL DEFAULT '' CHECK (length(person) <= 200 AND instr(person, char(0)) = 0),
    note   TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 2000 AND instr(note, char(0)) = 0),
    CHECK (mass_g <> 0 OR kind = 'weigh in'),
    CHECK (mass_g IS NOT NULL OR kind <> 'weigh in')
) STRICT;
CREATE INDEX herb_movement_by_lot ON herb_movement (lot_id);

ALTER TABLE charge_line ADD COLUMN lot_id INTEGER REFERENCES herb_lot (id);
DROP INDEX charge_line_by_herb;
CREATE INDEX charge_line_by_herb ON charge_line (herb_id, jar_id);
CREATE INDEX charge_line_by_lot ON charge_line (lot_id) WHERE lot_id IS NOT NULL;

-- What each lot holds by weight; null where it was never weighed, neither at first nor later.
CREATE VIEW in_store AS
SELECT l.id AS lot_id,
       coalesce(l.mass_g, (SELECT 0.0 FROM herb_movement w WHERE w.lot_id = l.id AND w.kind = 'weigh in' LIMIT 1))
       + coalesce((SELECT sum(m.mass_g) FROM herb_movement m WHERE m.lot_id = l.id), 0)
       - coalesce((SELECT sum(c.mass_g) FROM charge_line c WHERE c.lot_id = l.id), 0)
       - coalesce((SELECT sum(p.mass_g) FROM herb_lot p WHERE p.from_lot_id = l.id), 0) AS left_g
FROM herb_lot l;

CREATE TRIGGER herb_movement_is_in_store BEFORE INSERT ON herb_movement
WHEN NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT left_g FROM in_store WHERE lot_id = NEW.lot_id) + NEW.mass_g < -0.005
BEGIN
    SELECT RAISE(ABORT, 'There isn''t that much of this lot left.');
END;

CREATE TRIGGER herb_movement_goes_one_way BEFORE INSERT ON herb_movement
WHEN NEW.mass_g > 0 AND (SELECT takes FROM herb_movement_kind WHERE name = NEW.kind)
BEGIN
    SELECT RAISE(ABORT, 'That takes herb out of a lot, and can''t add any.');
END;

CREATE TRIGGER charge_is_in_store BEFORE INSERT ON charge_line
WHEN NEW.lot_id IS NOT NULL AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND (SELECT left_g FROM in_store WHERE lot_id = NEW.lot_id) < NEW.mass_g - 0.005
BEGIN
    SELECT RAISE(ABORT, 'There isn''t that much of this lot left.');
END;

CREATE TRIGGER charge_is_of_its_lot BEFORE INSERT ON charge_line
WHEN NEW.lot_id IS NOT NULL AND NOT (SELECT rewinding OR correcting FROM undo_state)
     AND NOT EXISTS (SELECT 1 FROM herb_lot WHERE id = NEW.lot_id AND herb_id = NEW.herb_id AND part = NEW.part)
BEGIN
    SELECT RAISE(ABORT, 'The lot is of another herb, or of another part of it.');
END;

-- The lots of an empty bottle and of its cap, where somebody enters them.
ALTER TABLE bottle ADD COLUMN bottle_lot TEXT NOT NULL DEFAULT ''
    CHECK (length(bottle_lot) <= 200 AND instr(bottle_lot, char(0)) = 0);
ALTER TABLE bottle ADD COLUMN cap_lot TEXT NOT NULL DEFAULT ''
    CHECK (length(cap_lot) <= 200 AND instr(cap_lot, char(0)) = 0);

-- How many months of use to have in hand of one herb, where that isn't as for all of them; and when a part
-- of it is gathered, as month and day of any year. A window may run over New Year.
ALTER TABLE herb ADD COLUMN months_in_hand REAL CHECK (months_in_hand > 0 AND months_in_hand <= 120);
CREATE TABLE gathering_window (
    id        INTEGER PRIMARY KEY,
    herb_id   INTEGER NOT NULL REFERENCES herb (id),
    part      TEXT NOT NULL CHECK (part IN ('leaf', 'aerial parts', 'flower', 'fruit', 'seed',
                                            'root', 'bark', 'resin', 'whole plant')),
    first_day TEXT NOT NULL CHECK (date('2024-' || first_day, '+0 days') IS '2024-' || first_day),
    last_day  TEXT NOT NULL CHECK (date('2024-' || last_day, '+0 days') IS '2024-' || last_day),
    UNIQUE (herb_id, part)
) STRICT;

-- Codes that two shelves had both when they were joined: each batch got a new one. `shelf` is the shelf on
-- which `code` was that of the thing that has `new_code` now.
CREATE TABLE code_alias (
    id       INTEGER PRIMARY KEY,
    code     TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 48 AND instr(code, char(0)) = 0),
    new_code TEXT NOT NULL CHECK (length(new_code) BETWEEN 1 AND 48 AND instr(new_code, char(0)) = 0),
    shelf    TEXT NOT NULL CHECK (length(trim(shelf)) BETWEEN 1 AND 200 AND instr(shelf, char(0)) = 0),
    UNIQUE (new_code, code)
) STRICT;
CREATE INDEX code_alias_by_code ON code_alias (code);

-- What isn't finished: bottles that hold liquid, and tinctures of which some is still to be bottled. Like
-- indexes, these two hold nothing that doesn't follow from the rest of the file, and let it be found without
-- visiting what is finished. Every change writes them, undo, corrections and other programs included. Amounts
-- a little smaller than what counts as some are in them, too: whoever reads them looks at the amount.
CREATE TABLE in_stock (bottle_id INTEGER PRIMARY KEY REFERENCES bottle (id)) STRICT;
CREATE TABLE to_bottle (tincture_id INTEGER PRIMARY KEY REFERENCES tincture (id)) STRICT;

CREATE VIEW holding AS
SELECT b.id AS bottle_id FROM bottle b
WHERE (SELECT sum(m.volume_ml) FROM movement m WHERE m.bottle_id = b.id) > 0.004;

CREATE VIEW waiting AS SELECT u.tincture_id FROM unbottled u WHERE u.left_ml > 0.4;

INSERT INTO in_stock SELECT bottle_id FROM holding;
INSERT INTO to_bottle SELECT tincture_id FROM waiting;
CREATE INDEX jar_unfinished ON jar (shelf_id, place) WHERE ended_on IS NULL;

CREATE TRIGGER stock_movement_in AFTER INSERT ON movement
WHEN NEW.volume_ml > 0
BEGIN
    INSERT OR IGNORE INTO in_stock SELECT v.bottle_id FROM holding v WHERE v.bottle_id = NEW.bottle_id;
END;

CREATE TRIGGER stock_movement_out AFTER INSERT ON movement
WHEN NEW.volume_ml < 0
BEGIN
    DELETE FROM in_stock WHERE bottle_id = NEW.bottle_id
      AND NOT EXISTS (SELECT 1 FROM holding v WHERE v.bottle_id = NEW.bottle_id);
END;

CREATE TRIGGER stock_movement_update AFTER UPDATE OF bottle_id, volume_ml ON movement
BEGIN
    DELETE FROM in_stock WHERE bottle_id = OLD.bottle_id
      AND NOT EXISTS (SELECT 1 FROM holding v WHERE v.bottle_id = OLD.bottle_id);
    INSERT OR IGNORE INTO in_stock SELECT v.bottle_id FROM holding v WHERE v.bottle_id = OLD.bottle_id;
    DELETE FROM in_stock WHERE bottle_id = NEW.bottle_id
      AND NOT EXISTS (SELECT 1 FROM holding v WHERE v.bottle_id = NEW.bottle_id);
    INSERT OR IGNORE INTO in_stock SELECT v.bottle_id FROM holding v WHERE v.bottle_id = NEW.bottle_id;
END;

CREATE TRIGGER stock_movement_delete AFTER DELETE ON movement
BEGIN
    DELETE FROM in_stock WHERE bottle_id = OLD.bottle_id
      AND NOT EXISTS (SELECT 1 FROM holding v WHERE v.bottle_id = OLD.bottle_id);
    INSERT OR IGNORE INTO in_stock SELECT v.bottle_id FROM holding v WHERE v.bottle_id = OLD.bottle_id;
END;

CREATE TRIGGER wait_tincture_insert AFTER INSERT ON tincture
BEGIN
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = NEW.id;
END;

CREATE TRIGGER wait_tincture_update AFTER UPDATE OF volume_ml, lost_ml ON tincture
BEGIN
    DELETE FROM to_bottle WHERE tincture_id = NEW.id
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = NEW.id);
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = NEW.id;
END;

CREATE TRIGGER wait_tincture_delete AFTER DELETE ON tincture
BEGIN
    DELETE FROM to_bottle WHERE tincture_id = OLD.id;
END;

CREATE TRIGGER wait_movement_insert AFTER INSERT ON movement
WHEN NEW.kind = 'fill'
BEGIN
    DELETE FROM to_bottle WHERE tincture_id = (SELECT tincture_id FROM bottle WHERE id = NEW.bottle_id)
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = (SELECT tincture_id FROM bottle WHERE id = NEW.bottle_id));
END;

CREATE TRIGGER wait_movement_update AFTER UPDATE OF bottle_id, volume_ml, kind ON movement
WHEN OLD.kind = 'fill' OR NEW.kind = 'fill'
BEGIN
    DELETE FROM to_bottle WHERE tincture_id = (SELECT tincture_id FROM bottle WHERE id = OLD.bottle_id)
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = (SELECT tincture_id FROM bottle WHERE id = OLD.bottle_id));
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = (SELECT tincture_id FROM bottle WHERE id = OLD.bottle_id);
    DELETE FROM to_bottle WHERE tincture_id = (SELECT tincture_id FROM bottle WHERE id = NEW.bottle_id)
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = (SELECT tincture_id FROM bottle WHERE id = NEW.bottle_id));
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = (SELECT tincture_id FROM bottle WHERE id = NEW.bottle_id);
END;

CREATE TRIGGER wait_movement_delete AFTER DELETE ON movement
WHEN OLD.kind = 'fill'
BEGIN
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = (SELECT tincture_id FROM bottle WHERE id = OLD.bottle_id);
END;

CREATE TRIGGER wait_bottle_update AFTER UPDATE OF tincture_id ON bottle
BEGIN
    DELETE FROM to_bottle WHERE tincture_id = OLD.tincture_id
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = OLD.tincture_id);
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = OLD.tincture_id;
    DELETE FROM to_bottle WHERE tincture_id = NEW.tincture_id
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = NEW.tincture_id);
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = NEW.tincture_id;
END;

CREATE TRIGGER wait_batch_input_insert AFTER INSERT ON batch_input
WHEN NEW.source_id IS NOT NULL
BEGIN
    DELETE FROM to_bottle WHERE tincture_id = NEW.source_id
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = NEW.source_id);
END;

CREATE TRIGGER wait_batch_input_update AFTER UPDATE OF source_id, volume_ml ON batch_input
WHEN coalesce(OLD.source_id, NEW.source_id) IS NOT NULL
BEGIN
    DELETE FROM to_bottle WHERE tincture_id = OLD.source_id
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = OLD.source_id);
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = OLD.source_id;
    DELETE FROM to_bottle WHERE tincture_id = NEW.source_id
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = NEW.source_id);
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = NEW.source_id;
END;

CREATE TRIGGER wait_batch_input_delete AFTER DELETE ON batch_input
WHEN OLD.source_id IS NOT NULL
BEGIN
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = OLD.source_id;
END;

CREATE TRIGGER wait_pour_insert AFTER INSERT ON pour
WHEN NEW.source_id IS NOT NULL
BEGIN
    DELETE FROM to_bottle WHERE tincture_id = NEW.source_id
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = NEW.source_id);
END;

CREATE TRIGGER wait_pour_update AFTER UPDATE OF source_id, volume_ml ON pour
WHEN coalesce(OLD.source_id, NEW.source_id) IS NOT NULL
BEGIN
    DELETE FROM to_bottle WHERE tincture_id = OLD.source_id
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = OLD.source_id);
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = OLD.source_id;
    DELETE FROM to_bottle WHERE tincture_id = NEW.source_id
      AND NOT EXISTS (SELECT 1 FROM waiting v WHERE v.tincture_id = NEW.source_id);
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = NEW.source_id;
END;

CREATE TRIGGER wait_pour_delete AFTER DELETE ON pour
WHEN OLD.source_id IS NOT NULL
BEGIN
    INSERT OR IGNORE INTO to_bottle SELECT v.tincture_id FROM waiting v WHERE v.tincture_id = OLD.source_id;
END;
