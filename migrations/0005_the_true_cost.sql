-- Form 5: what a half-gallon costs. What is bought goes into a store and leaves it as it is fed or used; minutes may come from a
-- usual week; electricity from a bill, a meter or the appliances; and every choice behind a cost is a record of its own.

CREATE TABLE stores (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    sort TEXT NOT NULL,
    since TEXT NOT NULL,
    counted_in TEXT NOT NULL,
    packs TEXT,
    used_by TEXT NOT NULL,
    used_amount TEXT,
    milk_share INTEGER NOT NULL CHECK (milk_share >= 0),
    dry_matter TEXT,
    waste TEXT,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
CREATE UNIQUE INDEX stores_name ON stores (name COLLATE NOCASE);

CREATE TABLE tickets_5 (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    paid TEXT NOT NULL,
    sort TEXT NOT NULL,
    what TEXT NOT NULL,
    supplier TEXT,
    amount INTEGER NOT NULL,
    quantity TEXT,
    unit TEXT,
    store INTEGER REFERENCES stores(number),
    cow INTEGER REFERENCES cows(number),
    covers_from TEXT,
    covers_to TEXT,
    milk_share INTEGER NOT NULL CHECK (milk_share >= 0),
    guess TEXT NOT NULL CHECK (guess IN ('yes', 'no')),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
INSERT INTO tickets_5 (number, entry, paid, sort, what, supplier, amount, quantity, unit, covers_from, covers_to, milk_share, guess, written, who, source, version) SELECT number, entry, paid, sort, what, supplier, amount, quantity, unit, covers_from, covers_to, milk_share, guess, written, who, source, version FROM tickets;
DROP TABLE tickets;
ALTER TABLE tickets_5 RENAME TO tickets;
CREATE INDEX tickets_paid ON tickets (paid);

CREATE TABLE gear_5 (
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
    serves TEXT,
    left_by TEXT,
    brought INTEGER,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
INSERT INTO gear_5 (number, entry, name, sort, cow, bought, gone, price, salvage, life_years, milk_share, written, who, source, version) SELECT number, entry, name, sort, cow, bought, gone, price, salvage, life_years, milk_share, written, who, source, version FROM gear;
DROP TABLE gear;
ALTER TABLE gear_5 RENAME TO gear;

CREATE TABLE minutes_5 (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    day TEXT NOT NULL,
    job TEXT NOT NULL,
    person TEXT NOT NULL,
    minutes INTEGER NOT NULL CHECK (minutes >= 0),
    over TEXT,
    wage INTEGER,
    guess TEXT NOT NULL CHECK (guess IN ('yes', 'no')),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
INSERT INTO minutes_5 (number, entry, day, job, person, minutes, wage, guess, written, who, source, version) SELECT number, entry, day, job, person, minutes, wage, guess, written, who, source, version FROM minutes;
DROP TABLE minutes;
ALTER TABLE minutes_5 RENAME TO minutes;
CREATE INDEX minutes_day ON minutes (day);

CREATE TABLE feedings (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    store INTEGER NOT NULL REFERENCES stores(number),
    since TEXT NOT NULL,
    until TEXT,
    amount TEXT NOT NULL,
    unit TEXT NOT NULL,
    each TEXT NOT NULL,
    cow INTEGER REFERENCES cows(number),
    guess TEXT NOT NULL CHECK (guess IN ('yes', 'no')),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE store_counts (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    store INTEGER NOT NULL REFERENCES stores(number),
    day TEXT NOT NULL,
    amount TEXT NOT NULL,
    unit TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE usual_weeks (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    since TEXT NOT NULL,
    until TEXT,
    job TEXT NOT NULL,
    person TEXT NOT NULL,
    minutes INTEGER NOT NULL CHECK (minutes >= 0),
    wage INTEGER,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE worths (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    person TEXT NOT NULL,
    since TEXT NOT NULL,
    worth INTEGER NOT NULL,
    note TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE appliances (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    since TEXT NOT NULL,
    until TEXT,
    sort TEXT NOT NULL,
    kilowatts TEXT,
    minutes INTEGER CHECK (minutes >= 0),
    gallons TEXT,
    starts_at INTEGER,
    starts_at_as TEXT,
    ends_at INTEGER,
    ends_at_as TEXT,
    efficiency TEXT,
    times TEXT,
    kilowatt_hours TEXT,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
CREATE UNIQUE INDEX appliances_name ON appliances (name COLLATE NOCASE);

CREATE TABLE meter_readings (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    day TEXT NOT NULL,
    reading TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE bank_totals (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    since TEXT NOT NULL,
    until TEXT NOT NULL,
    paid_out INTEGER NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE choices (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    since TEXT NOT NULL,
    choice TEXT NOT NULL,
    note TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE what_ifs (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    made TEXT NOT NULL,
    changes TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
CREATE UNIQUE INDEX what_ifs_name ON what_ifs (name COLLATE NOCASE);

-- A report sums a year's jars without opening the long rows they stand in.
DROP INDEX lots_filled;
DROP INDEX pickups_at;
CREATE INDEX lots_made ON lots (made, filled, gallons, half_gallons, quarts, pints) WHERE made IS NOT NULL;
CREATE INDEX lots_sums ON lots (filled, number, gallons, half_gallons, quarts, pints);
CREATE INDEX pickups_sums ON pickups (at, gallons, half_gallons, quarts, pints);
CREATE INDEX asides_sums ON asides (at, sort, gallons, half_gallons, quarts, pints);
CREATE INDEX transfers_sums ON transfers (day, from_account, to_account, amount);
CREATE INDEX feedings_since ON feedings (since);
