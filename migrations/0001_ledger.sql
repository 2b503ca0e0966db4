-- The ledger, first form. One table for each kind of record; every table is STRICT, so a word can never sit in a
-- number's place. Each record carries its number, the entry mark that keeps a form sent twice from being kept twice,
-- when it was written, by whom and from what. What was corrected moves to `struck`; every change is a line of `journal`.

CREATE TABLE farm (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    since TEXT NOT NULL,
    zone TEXT NOT NULL,
    scale TEXT NOT NULL,
    address TEXT,
    phone TEXT,
    vet TEXT,
    health TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE rules (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    place TEXT NOT NULL,
    since TEXT NOT NULL,
    title TEXT NOT NULL,
    citation TEXT,
    text_date TEXT,
    sure TEXT NOT NULL,
    steps TEXT,
    fresh_days INTEGER CHECK (fresh_days >= 0),
    fresh_milkings INTEGER CHECK (fresh_milkings >= 0),
    best_by_days INTEGER CHECK (best_by_days >= 0),
    best_by_from TEXT,
    notes TEXT,
    check_by TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE assumptions (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    since TEXT NOT NULL,
    figure TEXT NOT NULL,
    note TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE people (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    label TEXT NOT NULL,
    name TEXT NOT NULL,
    sort TEXT NOT NULL,
    channel TEXT NOT NULL,
    phone TEXT,
    second_way TEXT,
    pickup_day TEXT,
    share_jars INTEGER CHECK (share_jars >= 0),
    since TEXT NOT NULL,
    until TEXT,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE cows (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    tag TEXT,
    born TEXT,
    breed TEXT,
    quarters INTEGER NOT NULL CHECK (quarters >= 0),
    since TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE events (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    cow INTEGER NOT NULL REFERENCES cows(number),
    at INTEGER NOT NULL,
    sort TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE treatments (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    cow INTEGER NOT NULL REFERENCES cows(number),
    at INTEGER NOT NULL,
    product TEXT NOT NULL,
    batch TEXT,
    dose TEXT,
    route TEXT,
    quarter TEXT,
    reason TEXT,
    given_by TEXT,
    milk_hours INTEGER CHECK (milk_hours >= 0),
    milk_milkings INTEGER CHECK (milk_milkings >= 0),
    meat_days INTEGER CHECK (meat_days >= 0),
    as_labelled TEXT NOT NULL CHECK (as_labelled IN ('yes', 'no')),
    vet_figure TEXT NOT NULL CHECK (vet_figure IN ('yes', 'no')),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE vessels (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    sort TEXT NOT NULL,
    tare INTEGER CHECK (tare >= 0),
    tare_as TEXT,
    capacity INTEGER CHECK (capacity >= 0),
    capacity_as TEXT,
    dipstick TEXT,
    since TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE milkings (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    session TEXT NOT NULL,
    started INTEGER NOT NULL,
    ended INTEGER,
    milker TEXT NOT NULL,
    well TEXT CHECK (well IN ('yes', 'no')),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE pails (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    milking INTEGER NOT NULL REFERENCES milkings(number),
    cow INTEGER NOT NULL REFERENCES cows(number),
    read TEXT NOT NULL,
    tare INTEGER CHECK (tare >= 0),
    tare_as TEXT,
    milk INTEGER NOT NULL CHECK (milk >= 0),
    milk_as TEXT NOT NULL,
    went TEXT NOT NULL,
    vessel INTEGER REFERENCES vessels(number),
    foremilk TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE breaks (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    vessel INTEGER NOT NULL REFERENCES vessels(number),
    at INTEGER NOT NULL,
    washed TEXT NOT NULL CHECK (washed IN ('yes', 'no')),
    sanitised TEXT NOT NULL CHECK (sanitised IN ('yes', 'no')),
    with_what TEXT,
    done_by TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE lots (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    code TEXT NOT NULL,
    filled INTEGER NOT NULL,
    vessel INTEGER REFERENCES vessels(number),
    gallons INTEGER NOT NULL CHECK (gallons >= 0),
    half_gallons INTEGER NOT NULL CHECK (half_gallons >= 0),
    quarts INTEGER NOT NULL CHECK (quarts >= 0),
    pints INTEGER NOT NULL CHECK (pints >= 0),
    left_in INTEGER CHECK (left_in >= 0),
    left_in_as TEXT,
    new_filter TEXT CHECK (new_filter IN ('yes', 'no')),
    made TEXT,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE sources (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    lot INTEGER NOT NULL REFERENCES lots(number),
    milking INTEGER REFERENCES milkings(number),
    parent INTEGER REFERENCES lots(number),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0),
    CHECK ((milking IS NULL) <> (parent IS NULL))
) STRICT;

CREATE TABLE chill (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    lot INTEGER NOT NULL REFERENCES lots(number),
    at INTEGER NOT NULL,
    temperature INTEGER NOT NULL,
    temperature_as TEXT NOT NULL,
    thermometer TEXT,
    bath INTEGER,
    bath_as TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE counts (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    lot INTEGER NOT NULL REFERENCES lots(number),
    gallons INTEGER NOT NULL CHECK (gallons >= 0),
    half_gallons INTEGER NOT NULL CHECK (half_gallons >= 0),
    quarts INTEGER NOT NULL CHECK (quarts >= 0),
    pints INTEGER NOT NULL CHECK (pints >= 0),
    counter TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE pickups (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    lot INTEGER NOT NULL REFERENCES lots(number),
    person INTEGER REFERENCES people(number),
    gallons INTEGER NOT NULL CHECK (gallons >= 0),
    half_gallons INTEGER NOT NULL CHECK (half_gallons >= 0),
    quarts INTEGER NOT NULL CHECK (quarts >= 0),
    pints INTEGER NOT NULL CHECK (pints >= 0),
    evidence TEXT NOT NULL,
    taken_by TEXT,
    verdict TEXT NOT NULL,
    because TEXT NOT NULL,
    facts TEXT NOT NULL,
    marked TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE asides (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    lot INTEGER NOT NULL REFERENCES lots(number),
    sort TEXT NOT NULL,
    gallons INTEGER NOT NULL CHECK (gallons >= 0),
    half_gallons INTEGER NOT NULL CHECK (half_gallons >= 0),
    quarts INTEGER NOT NULL CHECK (quarts >= 0),
    pints INTEGER NOT NULL CHECK (pints >= 0),
    reason TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

-- A hold names exactly what it holds: one that names nothing would look like a stop and hold nothing.
CREATE TABLE holds (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    scope TEXT NOT NULL,
    lot INTEGER REFERENCES lots(number),
    cow INTEGER REFERENCES cows(number),
    vessel INTEGER REFERENCES vessels(number),
    reason TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0),
    CHECK ((scope = 'lot') = (lot IS NOT NULL) AND (scope = 'cow') = (cow IS NOT NULL) AND (scope = 'vessel') = (vessel IS NOT NULL))
) STRICT;

CREATE TABLE lifts (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    hold INTEGER NOT NULL REFERENCES holds(number),
    at INTEGER NOT NULL,
    reason TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE results (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    drawn INTEGER NOT NULL,
    lot INTEGER REFERENCES lots(number),
    cow INTEGER REFERENCES cows(number),
    analyte TEXT NOT NULL,
    figure TEXT NOT NULL,
    unit TEXT,
    reported TEXT NOT NULL,
    lab TEXT,
    lab_ref TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE complaints (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    person INTEGER REFERENCES people(number),
    lot INTEGER REFERENCES lots(number),
    picked_up TEXT,
    says TEXT NOT NULL,
    ill_since TEXT,
    doctor TEXT CHECK (doctor IN ('yes', 'no')),
    taken_by TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE tickets (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    paid TEXT NOT NULL,
    sort TEXT NOT NULL,
    what TEXT NOT NULL,
    supplier TEXT,
    amount INTEGER NOT NULL,
    quantity TEXT,
    unit TEXT,
    covers_from TEXT,
    covers_to TEXT,
    milk_share INTEGER NOT NULL CHECK (milk_share >= 0),
    guess TEXT NOT NULL CHECK (guess IN ('yes', 'no')),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE gear (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    sort TEXT NOT NULL,
    cow INTEGER REFERENCES cows(number),
    bought TEXT NOT NULL,
    gone TEXT,
    price INTEGER NOT NULL,
    salvage INTEGER NOT NULL,
    life_years INTEGER NOT NULL CHECK (life_years >= 0),
    milk_share INTEGER NOT NULL CHECK (milk_share >= 0),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE minutes (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    day TEXT NOT NULL,
    job TEXT NOT NULL,
    person TEXT NOT NULL,
    minutes INTEGER NOT NULL CHECK (minutes >= 0),
    wage INTEGER,
    guess TEXT NOT NULL CHECK (guess IN ('yes', 'no')),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

-- What a correction struck through: the record as it was, who struck it and why.
CREATE TABLE struck (
    seq INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    number INTEGER NOT NULL,
    version INTEGER NOT NULL,
    was TEXT NOT NULL,
    at INTEGER NOT NULL,
    who TEXT NOT NULL,
    why TEXT NOT NULL
) STRICT;
CREATE INDEX struck_record ON struck (kind, number);

-- One line for every change. `act` groups what was saved together; `seal` is a SHA-256 over the line and the seal
-- before it, so a changed or missing line shows.
CREATE TABLE journal (
    seq INTEGER PRIMARY KEY,
    act INTEGER NOT NULL,
    at INTEGER NOT NULL,
    who TEXT NOT NULL,
    did TEXT NOT NULL CHECK (did IN ('kept', 'imported', 'corrected', 'struck', 'undone')),
    kind TEXT NOT NULL,
    number INTEGER NOT NULL,
    before TEXT,
    after TEXT,
    why TEXT,
    seal TEXT NOT NULL
) STRICT;
CREATE INDEX journal_record ON journal (kind, number);
CREATE INDEX journal_act ON journal (act);

-- Who may sign in. Never part of the farm folder.
CREATE TABLE hands (
    name TEXT PRIMARY KEY COLLATE NOCASE,
    role TEXT NOT NULL CHECK (role IN ('owner', 'helper')),
    secret TEXT NOT NULL,
    made INTEGER NOT NULL
) STRICT;
CREATE TABLE sessions (
    token_hash TEXT PRIMARY KEY,
    name TEXT NOT NULL REFERENCES hands(name) ON DELETE CASCADE,
    seal TEXT NOT NULL,
    until INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE failed_sign_ins (
    who TEXT NOT NULL,
    at INTEGER NOT NULL
) STRICT;
CREATE INDEX failed_by ON failed_sign_ins (who, at);

-- The last good copy, so that Today can say how old it is.
CREATE TABLE backups (
    at INTEGER NOT NULL,
    file TEXT NOT NULL,
    records INTEGER NOT NULL
) STRICT;

CREATE UNIQUE INDEX cows_name ON cows (name COLLATE NOCASE);
CREATE UNIQUE INDEX vessels_name ON vessels (name COLLATE NOCASE);
CREATE UNIQUE INDEX people_label ON people (label COLLATE NOCASE);
CREATE UNIQUE INDEX milkings_session ON milkings (session);
CREATE INDEX milkings_started ON milkings (started);
CREATE INDEX lots_code ON lots (code, filled);
CREATE INDEX lots_filled ON lots (filled);
CREATE INDEX lots_vessel ON lots (vessel, filled);
CREATE INDEX events_cow ON events (cow, at);
CREATE INDEX treatments_cow ON treatments (cow, at);
CREATE INDEX pails_milking ON pails (milking);
CREATE INDEX pails_cow ON pails (cow, milking);
CREATE INDEX breaks_vessel ON breaks (vessel, at);
CREATE UNIQUE INDEX sources_milking ON sources (lot, milking) WHERE milking IS NOT NULL;
CREATE INDEX sources_of_milking ON sources (milking, lot);
CREATE INDEX sources_parent ON sources (parent, lot);
CREATE INDEX chill_lot ON chill (lot, at);
CREATE INDEX counts_lot ON counts (lot, at);
CREATE INDEX counts_at ON counts (at);
CREATE INDEX pickups_lot ON pickups (lot);
CREATE INDEX pickups_person ON pickups (person, at);
CREATE INDEX pickups_at ON pickups (at);
CREATE INDEX asides_lot ON asides (lot);
CREATE INDEX lifts_hold ON lifts (hold);
CREATE INDEX results_lot ON results (lot);
CREATE INDEX tickets_paid ON tickets (paid);
CREATE INDEX minutes_day ON minutes (day);

-- Which lots a hold touches, said once: the lot named, every lot, what was in the vessel since its last clean break that
-- was written down before the hold, or whatever has the cow's milk of that day or later in it.
CREATE VIEW touched (hold, lot) AS
SELECT h.number, l.number
FROM holds h JOIN lots l ON h.scope = 'everything'
    OR (h.scope = 'lot' AND h.lot = l.number)
    OR (h.scope = 'vessel'
        AND (h.vessel = l.vessel OR EXISTS (SELECT 1 FROM sources s JOIN pails p ON p.milking = s.milking WHERE s.lot = l.number AND p.vessel = h.vessel))
        AND l.filled >= coalesce((SELECT max(b.at) FROM breaks b
            WHERE b.vessel = h.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at <= h.at AND b.written <= h.written), 0))
    OR (h.scope = 'cow' AND EXISTS (SELECT 1 FROM sources s JOIN pails p ON p.milking = s.milking JOIN milkings m ON m.number = s.milking
        WHERE s.lot = l.number AND p.cow = h.cow AND p.went = 'can' AND m.started >= h.at - 86400));
