-- The shelf as first released. Dates are local civil days, moments are UTC, volumes are mL at 20 °C,
-- masses g, strengths % v/v. What must not happen is a constraint here, so that no program can write it.
-- Days pass date(…, '+0 days'), as date() alone takes 30 February; they begin with the year 1, as Python's
-- do. Upper bounds keep infinity out, which the undo log could not write down.

CREATE TABLE setting (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 100 AND instr(name, char(0)) = 0),
    value TEXT NOT NULL CHECK (length(value) <= 2000 AND instr(value, char(0)) = 0)
) STRICT;

CREATE TABLE herb (
    id        INTEGER PRIMARY KEY,
    name      TEXT NOT NULL COLLATE NOCASE UNIQUE
              CHECK (length(trim(name)) BETWEEN 1 AND 200 AND instr(name, char(0)) = 0),
    botanical TEXT NOT NULL DEFAULT '' CHECK (length(botanical) <= 200 AND instr(botanical, char(0)) = 0),
    cautions  TEXT NOT NULL DEFAULT '' CHECK (length(cautions) <= 20000 AND instr(cautions, char(0)) = 0),
    note      TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0)
) STRICT;

CREATE TABLE shelf (
    id       INTEGER PRIMARY KEY,
    name     TEXT NOT NULL COLLATE NOCASE UNIQUE
             CHECK (length(trim(name)) BETWEEN 1 AND 200 AND instr(name, char(0)) = 0),
    position INTEGER NOT NULL CHECK (position >= 1),
    note     TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0)
) STRICT;

CREATE TABLE spirit (
    id           INTEGER PRIMARY KEY,
    name         TEXT NOT NULL CHECK (length(trim(name)) BETWEEN 1 AND 200 AND instr(name, char(0)) = 0),
    strength_abv REAL NOT NULL CHECK (strength_abv > 0 AND strength_abv <= 100),
    bought_ml    REAL CHECK (bought_ml > 0 AND bought_ml <= 1e9),
    price        REAL CHECK (price >= 0 AND price <= 1e9),
    bought_on    TEXT CHECK (date(bought_on, '+0 days') IS bought_on AND bought_on > '0001'),
    origin       TEXT NOT NULL DEFAULT '' CHECK (length(origin) <= 2000 AND instr(origin, char(0)) = 0),
    note         TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0)
) STRICT;

CREATE TABLE bottle_size (
    id      INTEGER PRIMARY KEY,
    size_ml REAL NOT NULL UNIQUE CHECK (size_ml > 0 AND size_ml <= 1e6),
    empties INTEGER CHECK (empties >= 0)
) STRICT;

CREATE TABLE jar (
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
    state          TEXT NOT NULL DEFAULT 'steeping' CHECK (state IN ('steeping', 'strained', 'discarded')),
    ended_on       TEXT CHECK (date(ended_on, '+0 days') IS ended_on AND ended_on > '0001'),
    note           TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0),
    CHECK (strain_on >= filled_on),
    CHECK ((state = 'steeping') = (ended_on IS NULL)),
    CHECK (ended_on IS NULL OR ended_on >= filled_on)
) STRICT;
CREATE INDEX jar_by_shelf ON jar (shelf_id, place);

CREATE TABLE charge_line (
    id             INTEGER PRIMARY KEY,
    jar_id         INTEGER NOT NULL REFERENCES jar (id),
    herb_id        INTEGER NOT NULL REFERENCES herb (id),
    part           TEXT NOT NULL CHECK (part IN ('leaf', 'aerial parts', 'flower', 'fruit', 'seed',
                                                 'root', 'bark', 'resin', 'whole plant')),
    condition      TEXT NOT NULL CHECK (condition IN ('fresh', 'dried')),
    mass_g         REAL CHECK (mass_g > 0 AND mass_g <= 1e6),
    water_fraction REAL CHECK (water_fraction >= 0 AND water_fraction < 1),
    gathered_on    TEXT CHECK (date(gathered_on, '+0 days') IS gathered_on AND gathered_on > '0001'),
    origin         TEXT NOT NULL DEFAULT '' CHECK (length(origin) <= 2000 AND instr(origin, char(0)) = 0)
) STRICT;
CREATE INDEX charge_line_by_jar ON charge_line (jar_id);
CREATE INDEX charge_line_by_herb ON charge_line (herb_id);

CREATE TABLE pour (
    id           INTEGER PRIMARY KEY,
    jar_id       INTEGER NOT NULL REFERENCES jar (id),
    kind         TEXT NOT NULL CHECK (kind IN ('spirit', 'water', 'decoction')),
    spirit_id    INTEGER REFERENCES spirit (id),
    volume_ml    REAL NOT NULL CHECK (volume_ml > 0 AND volume_ml <= 1e6),
    strength_abv REAL NOT NULL CHECK (strength_abv >= 0 AND strength_abv <= 100),
    poured_on    TEXT NOT NULL CHECK (date(poured_on, '+0 days') IS poured_on AND poured_on > '0001'),
    CHECK ((kind = 'spirit') = (strength_abv > 0)),
    CHECK (spirit_id IS NULL OR kind = 'spirit')
) STRICT;
CREATE INDEX pour_by_jar ON pour (jar_id);
CREATE INDEX pour_by_spirit ON pour (spirit_id);

-- One tick per jar, local day and turn: two programs, or a clock set back, cannot tick a shake twice.
CREATE TABLE shake (
    id     INTEGER PRIMARY KEY,
    jar_id INTEGER NOT NULL REFERENCES jar (id),
    day    TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    turn   INTEGER NOT NULL CHECK (turn BETWEEN 1 AND 9),
    at     TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    maker  TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    UNIQUE (jar_id, day, turn)
) STRICT;

CREATE TABLE straining (
    id            INTEGER PRIMARY KEY,
    jar_id        INTEGER NOT NULL UNIQUE REFERENCES jar (id),
    strained_on   TEXT NOT NULL CHECK (date(strained_on, '+0 days') IS strained_on AND strained_on > '0001'),
    yield_ml      REAL NOT NULL CHECK (yield_ml > 0 AND yield_ml <= 1e6),
    pressing      TEXT NOT NULL CHECK (pressing IN ('drained', 'squeezed', 'pressed')),
    marc_g        REAL CHECK (marc_g > 0 AND marc_g <= 1e6),
    measured_abv  REAL CHECK (measured_abv >= 0 AND measured_abv <= 100),
    liquid_ml     REAL CHECK (liquid_ml > 0 AND liquid_ml <= 1e9),
    expected_ml   REAL CHECK (expected_ml >= 0 AND expected_ml <= 1e9),
    confirmed     INTEGER NOT NULL DEFAULT 0 CHECK (confirmed IN (0, 1)),
    note          TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0)
) STRICT;

CREATE TABLE tincture (
    id           INTEGER PRIMARY KEY,
    code         TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40 AND instr(code, char(0)) = 0),
    name         TEXT NOT NULL DEFAULT '' CHECK (length(name) <= 200 AND instr(name, char(0)) = 0),
    straining_id INTEGER UNIQUE REFERENCES straining (id),
    made_on      TEXT NOT NULL CHECK (date(made_on, '+0 days') IS made_on AND made_on > '0001'),
    volume_ml    REAL NOT NULL CHECK (volume_ml > 0 AND volume_ml <= 1e6),
    strength_abv REAL CHECK (strength_abv >= 0 AND strength_abv <= 100),
    strength_by  TEXT NOT NULL DEFAULT 'unknown'
                 CHECK (strength_by IN ('measured', 'calculated', 'estimated', 'unknown')),
    ratio        REAL CHECK (ratio > 0 AND ratio <= 1e9),
    keep_until   TEXT CHECK (date(keep_until, '+0 days') IS keep_until AND keep_until > '0001'),
    lost_ml      REAL NOT NULL DEFAULT 0 CHECK (lost_ml >= 0),
    note         TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0),
    CHECK ((strength_abv IS NULL) = (strength_by = 'unknown')),
    CHECK (lost_ml <= volume_ml + 0.005)
) STRICT;

CREATE TABLE bottle (
    id          INTEGER PRIMARY KEY,
    code        TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 48 AND instr(code, char(0)) = 0),
    tincture_id INTEGER NOT NULL REFERENCES tincture (id),
    size_ml     REAL NOT NULL CHECK (size_ml > 0 AND size_ml <= 1e6),
    filled_on   TEXT NOT NULL CHECK (date(filled_on, '+0 days') IS filled_on AND filled_on > '0001'),
    place       TEXT NOT NULL DEFAULT '' CHECK (length(place) <= 200 AND instr(place, char(0)) = 0)
) STRICT;
CREATE INDEX bottle_by_tincture ON bottle (tincture_id);

CREATE TABLE movement (
    id        INTEGER PRIMARY KEY,
    bottle_id INTEGER NOT NULL REFERENCES bottle (id),
    volume_ml REAL NOT NULL CHECK (volume_ml <> 0 AND abs(volume_ml) <= 1e6),
    kind      TEXT NOT NULL CHECK (kind IN ('fill', 'draw', 'give', 'spill', 'weigh in', 'count',
                                            'pour together', 'blend', 'discard')),
    at        TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day       TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker     TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    note      TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 2000 AND instr(note, char(0)) = 0),
    CHECK (kind <> 'fill' OR volume_ml > 0),
    CHECK (kind NOT IN ('draw', 'give', 'spill', 'blend', 'discard') OR volume_ml < 0)
) STRICT;
CREATE INDEX movement_by_bottle ON movement (bottle_id);
CREATE INDEX movement_by_day ON movement (day);

-- A part of a blend: the movement that took it out of its bottle says how much.
CREATE TABLE blend_part (
    id          INTEGER PRIMARY KEY,
    tincture_id INTEGER NOT NULL REFERENCES tincture (id),
    movement_id INTEGER NOT NULL UNIQUE REFERENCES movement (id)
) STRICT;
CREATE INDEX blend_part_by_tincture ON blend_part (tincture_id);

-- A blend to be made again. A part is tincture of a herb, or a tincture by its own name.
CREATE TABLE formula (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL COLLATE NOCASE UNIQUE
         CHECK (length(trim(name)) BETWEEN 1 AND 200 AND instr(name, char(0)) = 0),
    note TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 20000 AND instr(note, char(0)) = 0)
) STRICT;

CREATE TABLE formula_part (
    id         INTEGER PRIMARY KEY,
    formula_id INTEGER NOT NULL REFERENCES formula (id),
    herb_id    INTEGER REFERENCES herb (id),
    part       TEXT NOT NULL DEFAULT '' CHECK (part IN ('', 'leaf', 'aerial parts', 'flower', 'fruit', 'seed',
                                                        'root', 'bark', 'resin', 'whole plant')),
    name       TEXT NOT NULL DEFAULT '' COLLATE NOCASE CHECK (length(name) <= 200 AND instr(name, char(0)) = 0),
    share      REAL NOT NULL CHECK (share > 0 AND share <= 1e6),
    CHECK ((herb_id IS NULL) = (length(trim(name)) > 0)),
    CHECK (herb_id IS NOT NULL OR part = '')
) STRICT;
CREATE UNIQUE INDEX formula_names_a_part_once ON formula_part (formula_id, coalesce(herb_id, 0), part, name);

CREATE TABLE event (
    id          INTEGER PRIMARY KEY,
    at          TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    day         TEXT NOT NULL CHECK (date(day, '+0 days') IS day AND day > '0001'),
    maker       TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    kind        TEXT NOT NULL CHECK (length(kind) BETWEEN 1 AND 40 AND instr(kind, char(0)) = 0),
    text        TEXT NOT NULL DEFAULT '' CHECK (length(text) <= 20000 AND instr(text, char(0)) = 0),
    jar_id      INTEGER REFERENCES jar (id),
    tincture_id INTEGER REFERENCES tincture (id),
    bottle_id   INTEGER REFERENCES bottle (id),
    spirit_id   INTEGER REFERENCES spirit (id),
    herb_id     INTEGER REFERENCES herb (id)
) STRICT;
CREATE INDEX event_by_jar ON event (jar_id);
CREATE INDEX event_by_bottle ON event (bottle_id);

-- Undo. Every action keeps the SQL that takes it back, written by triggers (see records/undo.py).
CREATE TABLE action (
    id     INTEGER PRIMARY KEY,
    at     TEXT NOT NULL CHECK (at LIKE '____-__-__T%' AND at > '0001'
              AND datetime(substr(at, 1, 19), '+0 days') IS replace(substr(at, 1, 19), 'T', ' ')
              AND substr(at, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]+00:00'),
    maker  TEXT NOT NULL DEFAULT '' CHECK (length(maker) <= 200 AND instr(maker, char(0)) = 0),
    title  TEXT NOT NULL CHECK (length(title) BETWEEN 1 AND 2000 AND instr(title, char(0)) = 0),
    undone INTEGER NOT NULL DEFAULT 0 CHECK (undone IN (0, 1))
) STRICT;

CREATE TABLE undo_step (
    id        INTEGER PRIMARY KEY,
    action_id INTEGER NOT NULL REFERENCES action (id) ON DELETE CASCADE,
    sql       TEXT NOT NULL
) STRICT;
CREATE INDEX undo_step_by_action ON undo_step (action_id);

CREATE TABLE undo_state (
    id        INTEGER PRIMARY KEY CHECK (id = 1),
    action_id INTEGER REFERENCES action (id),
    rewinding INTEGER NOT NULL DEFAULT 0 CHECK (rewinding IN (0, 1)),
    CHECK (NOT rewinding OR action_id IS NOT NULL)
) STRICT;
INSERT INTO undo_state (id) VALUES (1);

-- Without this row nothing would be recorded for undo, and no rule below would hold.
CREATE TRIGGER undo_state_stays BEFORE DELETE ON undo_state
BEGIN
    SELECT RAISE(ABORT, 'The undo log needs its state.');
END;

-- A jar leaves the steep once, and only undo brings it back.
CREATE TRIGGER jar_state_moves_one_way BEFORE UPDATE OF state, ended_on ON jar
WHEN OLD.state <> 'steeping' AND (NEW.state <> OLD.state OR NEW.ended_on IS NOT OLD.ended_on)
     AND NOT (SELECT rewinding FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A jar that was strained or discarded can only be brought back by undo.');
END;

CREATE TRIGGER jar_is_strained_by_a_straining BEFORE UPDATE OF state ON jar
WHEN NEW.state <> OLD.state AND NOT (SELECT rewinding FROM undo_state)
     AND (NEW.state = 'strained') <> EXISTS (SELECT 1 FROM straining WHERE jar_id = NEW.id)
BEGIN
    SELECT RAISE(ABORT, 'A jar is strained when there is a straining of it, and only then.');
END;

CREATE TRIGGER straining_needs_a_jar_not_discarded BEFORE INSERT ON straining
WHEN (SELECT state FROM jar WHERE id = NEW.jar_id) = 'discarded'
     AND NOT (SELECT rewinding FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A jar that was discarded cannot be strained.');
END;

-- Contents of a bottle: the sum of its movements, never below nothing nor above its size.
CREATE TRIGGER movement_fits_bottle BEFORE INSERT ON movement
WHEN (SELECT coalesce(sum(volume_ml), 0) FROM movement WHERE bottle_id = NEW.bottle_id) + NEW.volume_ml
     NOT BETWEEN -0.005 AND (SELECT size_ml FROM bottle WHERE id = NEW.bottle_id) + 0.005
     AND NOT (SELECT rewinding FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A bottle cannot hold less than nothing or more than its size.');
END;

CREATE TRIGGER movement_is_kept BEFORE UPDATE ON movement
WHEN NOT (SELECT rewinding FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A movement is never rewritten: a further movement corrects it.');
END;

CREATE TRIGGER movement_stays BEFORE DELETE ON movement
WHEN NOT (SELECT rewinding FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A movement is never taken away: a further movement corrects it.');
END;

CREATE TRIGGER blend_part_went_into_a_blend BEFORE INSERT ON blend_part
WHEN NOT (SELECT rewinding FROM undo_state)
     AND NOT EXISTS (SELECT 1 FROM movement m JOIN bottle b ON b.id = m.bottle_id
                     JOIN tincture t ON t.id = NEW.tincture_id
                     WHERE m.id = NEW.movement_id AND m.kind = 'blend'
                           AND t.straining_id IS NULL AND b.tincture_id <> t.id)
BEGIN
    SELECT RAISE(ABORT, 'A part of a blend is drawn for it from a bottle of another tincture.');
END;

CREATE TRIGGER blend_part_is_kept BEFORE UPDATE ON blend_part
WHEN NOT (SELECT rewinding FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'What went into a blend is never rewritten.');
END;

-- What was bottled and lost never exceeds what was strained or blended.
CREATE TRIGGER tincture_was_strained BEFORE INSERT ON tincture
WHEN NOT (SELECT rewinding FROM undo_state)
     AND NEW.volume_ml > (SELECT yield_ml FROM straining WHERE id = NEW.straining_id) + 0.005
BEGIN
    SELECT RAISE(ABORT, 'A tincture cannot be more than what was strained.');
END;

CREATE TRIGGER tincture_stays_as_strained BEFORE UPDATE OF volume_ml, straining_id ON tincture
WHEN NOT (SELECT rewinding FROM undo_state)
     AND NEW.volume_ml > (SELECT yield_ml FROM straining WHERE id = NEW.straining_id) + 0.005
BEGIN
    SELECT RAISE(ABORT, 'A tincture cannot be more than what was strained.');
END;

CREATE TRIGGER fill_is_there BEFORE INSERT ON movement
WHEN NEW.kind = 'fill' AND NOT (SELECT rewinding FROM undo_state)
     AND (SELECT t.volume_ml - t.lost_ml
            - coalesce((SELECT sum(m.volume_ml) FROM movement m JOIN bottle b ON b.id = m.bottle_id
                        WHERE b.tincture_id = t.id AND m.kind = 'fill'), 0)
          FROM tincture t JOIN bottle b2 ON b2.tincture_id = t.id WHERE b2.id = NEW.bottle_id)
         < NEW.volume_ml - 0.005
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this tincture left to bottle.');
END;

CREATE TRIGGER tincture_covers_its_bottles BEFORE UPDATE OF volume_ml, lost_ml ON tincture
WHEN NOT (SELECT rewinding FROM undo_state)
     AND NEW.volume_ml - NEW.lost_ml + 0.005
         < coalesce((SELECT sum(m.volume_ml) FROM movement m JOIN bottle b ON b.id = m.bottle_id
                     WHERE b.tincture_id = NEW.id AND m.kind = 'fill'), 0)
BEGIN
    SELECT RAISE(ABORT, 'More of this tincture is in bottles than that would leave.');
END;

-- Spirit poured never exceeds what was bought, where the cupboard keeps count.
CREATE TRIGGER pour_is_in_cupboard BEFORE INSERT ON pour
WHEN NEW.spirit_id IS NOT NULL AND NOT (SELECT rewinding FROM undo_state)
     AND (SELECT s.bought_ml - coalesce((SELECT sum(p.volume_ml) FROM pour p WHERE p.spirit_id = s.id), 0)
          FROM spirit s WHERE s.id = NEW.spirit_id AND s.bought_ml IS NOT NULL)
         < NEW.volume_ml - 0.005
BEGIN
    SELECT RAISE(ABORT, 'There is not that much of this spirit left in the cupboard.');
END;

CREATE TRIGGER spirit_covers_its_pours BEFORE UPDATE OF bought_ml ON spirit
WHEN NEW.bought_ml IS NOT NULL AND NOT (SELECT rewinding FROM undo_state)
     AND NEW.bought_ml + 0.005
         < coalesce((SELECT sum(p.volume_ml) FROM pour p WHERE p.spirit_id = NEW.id), 0)
BEGIN
    SELECT RAISE(ABORT, 'More of this spirit has been poured than that.');
END;

CREATE TRIGGER pour_is_kept
BEFORE UPDATE OF jar_id, kind, spirit_id, volume_ml, strength_abv ON pour
WHEN NOT (SELECT rewinding FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A pour is never rewritten: it is taken out and put in again.');
END;

CREATE TRIGGER bottle_keeps_its_size BEFORE UPDATE OF size_ml, tincture_id ON bottle
WHEN NOT (SELECT rewinding FROM undo_state)
BEGIN
    SELECT RAISE(ABORT, 'A filled bottle keeps its size and its tincture.');
END;
