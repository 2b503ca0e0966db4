-- Form 6: the bad day. What a caller answers, what is called back and why, whom it reached, what became of every jar, and what
-- had to be so before milk went again.

CREATE TABLE farm_6 (
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
    insurer TEXT,
    warm_at INTEGER,
    warm_at_as TEXT,
    warm_hours INTEGER CHECK (warm_hours >= 0),
    lid_page TEXT CHECK (lid_page IN ('yes', 'no')),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
INSERT INTO farm_6 (number, entry, name, since, zone, scale, address, phone, vet, health, written, who, source, version) SELECT number, entry, name, since, zone, scale, address, phone, vet, health, written, who, source, version FROM farm;
DROP TABLE farm;
ALTER TABLE farm_6 RENAME TO farm;

CREATE TABLE complaints_6 (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    person INTEGER REFERENCES people(number),
    caller TEXT,
    lot INTEGER REFERENCES lots(number),
    picked_up TEXT,
    says TEXT,
    ill_since TEXT,
    doctor TEXT CHECK (doctor IN ('yes', 'no')),
    taken_by TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
INSERT INTO complaints_6 (number, entry, at, person, lot, picked_up, says, ill_since, doctor, taken_by, written, who, source, version) SELECT number, entry, at, person, lot, picked_up, says, ill_since, doctor, taken_by, written, who, source, version FROM complaints;
DROP TABLE complaints;
ALTER TABLE complaints_6 RENAME TO complaints;

CREATE TABLE answers (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    complaint INTEGER NOT NULL REFERENCES complaints(number),
    at INTEGER NOT NULL,
    question TEXT NOT NULL,
    says TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE callbacks (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    sort TEXT NOT NULL,
    because TEXT NOT NULL,
    complaint INTEGER REFERENCES complaints(number),
    result INTEGER REFERENCES results(number),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE called (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    callback INTEGER NOT NULL REFERENCES callbacks(number),
    at INTEGER NOT NULL,
    lot INTEGER NOT NULL REFERENCES lots(number),
    tie TEXT NOT NULL,
    because TEXT NOT NULL,
    stands TEXT NOT NULL,
    reason TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE contacts (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    callback INTEGER NOT NULL REFERENCES callbacks(number),
    at INTEGER NOT NULL,
    person INTEGER REFERENCES people(number),
    pickup INTEGER REFERENCES pickups(number),
    way TEXT NOT NULL,
    outcome TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE tellings (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    contact INTEGER NOT NULL REFERENCES contacts(number),
    lot INTEGER NOT NULL REFERENCES lots(number),
    became TEXT NOT NULL,
    gallons INTEGER NOT NULL CHECK (gallons >= 0),
    half_gallons INTEGER NOT NULL CHECK (half_gallons >= 0),
    quarts INTEGER NOT NULL CHECK (quarts >= 0),
    pints INTEGER NOT NULL CHECK (pints >= 0),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE messages (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    callback INTEGER NOT NULL REFERENCES callbacks(number),
    at INTEGER NOT NULL,
    way TEXT NOT NULL,
    says TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE mailings (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    message INTEGER NOT NULL REFERENCES messages(number),
    at INTEGER NOT NULL,
    person INTEGER NOT NULL REFERENCES people(number),
    address TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE deliveries (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    mailing INTEGER NOT NULL REFERENCES mailings(number),
    at INTEGER NOT NULL,
    outcome TEXT NOT NULL,
    answer TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE courses (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    callback INTEGER NOT NULL REFERENCES callbacks(number),
    at INTEGER NOT NULL,
    sort TEXT NOT NULL,
    says TEXT NOT NULL,
    signed TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE conditions (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    callback INTEGER NOT NULL REFERENCES callbacks(number),
    at INTEGER NOT NULL,
    says TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE conditions_met (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    condition INTEGER NOT NULL REFERENCES conditions(number),
    at INTEGER NOT NULL,
    signed TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE warm_fridges (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    fridge TEXT NOT NULL,
    last_cold INTEGER,
    found INTEGER NOT NULL,
    warmest INTEGER,
    warmest_as TEXT,
    thermometer TEXT,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE warmed (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    warm_fridge INTEGER NOT NULL REFERENCES warm_fridges(number),
    lot INTEGER NOT NULL REFERENCES lots(number),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE INDEX answers_complaint ON answers (complaint, at);
CREATE INDEX called_callback ON called (callback, lot, at);
CREATE INDEX called_lot ON called (lot);
CREATE INDEX contacts_callback ON contacts (callback, at);
CREATE INDEX contacts_person ON contacts (person);
CREATE INDEX tellings_contact ON tellings (contact);
CREATE INDEX messages_callback ON messages (callback, way, at);
CREATE UNIQUE INDEX mailings_once ON mailings (message, person);
CREATE INDEX deliveries_mailing ON deliveries (mailing, at);
CREATE INDEX courses_callback ON courses (callback, at);
CREATE INDEX conditions_callback ON conditions (callback);
CREATE UNIQUE INDEX conditions_met_once ON conditions_met (condition);
CREATE UNIQUE INDEX warmed_once ON warmed (warm_fridge, lot);
CREATE INDEX warmed_lot ON warmed (lot);
