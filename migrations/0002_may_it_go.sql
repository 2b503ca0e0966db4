-- Form 2: whether a lot may go out rests on more than its chill. The rules of a place gain their limits, how often things
-- are tested, caps and ways of handing out; a lab's results hang on the bottle they came from; and there are tables for
-- ice-water checks, strip tests, papers kept, what has to be renewed, and what the owner decided on a lot.
--
-- A table whose columns changed is built anew and filled from the old one, so that its columns stand in the order of
-- `trade::kinds`. None of those tables is named by another.

CREATE TABLE rules_2 (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    place TEXT NOT NULL,
    since TEXT NOT NULL,
    title TEXT NOT NULL,
    citation TEXT,
    url TEXT,
    text_date TEXT,
    sure TEXT NOT NULL,
    beside TEXT CHECK (beside IN ('yes', 'no')),
    channels TEXT,
    steps TEXT,
    limits TEXT,
    tests TEXT,
    caps TEXT,
    resample_after INTEGER CHECK (resample_after >= 0),
    resample_within INTEGER CHECK (resample_within >= 0),
    fresh_before INTEGER CHECK (fresh_before >= 0),
    fresh_days INTEGER CHECK (fresh_days >= 0),
    fresh_milkings INTEGER CHECK (fresh_milkings >= 0),
    strip_fails TEXT,
    best_by_days INTEGER CHECK (best_by_days >= 0),
    best_by_from TEXT,
    keep_years INTEGER CHECK (keep_years >= 0),
    notes TEXT,
    check_by TEXT,
    why TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
INSERT INTO rules_2 (number, entry, place, since, title, citation, text_date, sure, steps, fresh_days, fresh_milkings,
                     best_by_days, best_by_from, notes, check_by, written, who, source, version)
SELECT number, entry, place, since, title, citation, text_date, sure, steps, fresh_days, fresh_milkings,
       best_by_days, best_by_from, notes, check_by, written, who, source, version FROM rules;
DROP TABLE rules;
ALTER TABLE rules_2 RENAME TO rules;

-- A cow served or found in calf has a day she is due.
CREATE TABLE events_2 (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    cow INTEGER NOT NULL REFERENCES cows(number),
    at INTEGER NOT NULL,
    sort TEXT NOT NULL,
    due TEXT,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
INSERT INTO events_2 SELECT number, entry, cow, at, sort, NULL, note, written, who, source, version FROM events;
DROP TABLE events;
ALTER TABLE events_2 RENAME TO events;
CREATE INDEX events_cow ON events (cow, at);

-- A product given to dry her off may count from the calving, if she was dry long enough.
CREATE TABLE treatments_2 (
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
    counted_from TEXT,
    dry_days INTEGER CHECK (dry_days >= 0),
    meat_days INTEGER CHECK (meat_days >= 0),
    as_labelled TEXT NOT NULL CHECK (as_labelled IN ('yes', 'no')),
    vet_figure TEXT NOT NULL CHECK (vet_figure IN ('yes', 'no')),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
INSERT INTO treatments_2 SELECT number, entry, cow, at, product, batch, dose, route, quarter, reason, given_by, milk_hours,
       milk_milkings, NULL, NULL, meat_days, as_labelled, vet_figure, written, who, source, version FROM treatments;
DROP TABLE treatments;
ALTER TABLE treatments_2 RENAME TO treatments;
CREATE INDEX treatments_cow ON treatments (cow, at);

CREATE TABLE strip_tests (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    cow INTEGER NOT NULL REFERENCES cows(number),
    at INTEGER NOT NULL,
    quarter TEXT NOT NULL,
    score TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
CREATE INDEX strip_tests_cow ON strip_tests (cow, at);

CREATE TABLE ice_checks (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    thermometer TEXT NOT NULL,
    at INTEGER NOT NULL,
    reading INTEGER NOT NULL,
    reading_as TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
CREATE INDEX ice_checks_at ON ice_checks (at);
CREATE INDEX chill_at ON chill (at);

-- A paper kept: its name and the SHA-256 of its bytes, which lie in `contents`.
CREATE TABLE documents (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    at INTEGER NOT NULL,
    hash TEXT NOT NULL,
    size INTEGER NOT NULL CHECK (size >= 0),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
CREATE TABLE contents (
    hash TEXT PRIMARY KEY,
    bytes BLOB NOT NULL
) STRICT;

CREATE TABLE samples (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    drawn INTEGER NOT NULL,
    subject TEXT NOT NULL,
    lot INTEGER REFERENCES lots(number),
    cow INTEGER REFERENCES cows(number),
    place TEXT,
    asked TEXT,
    sent INTEGER,
    received_at INTEGER,
    received_at_as TEXT,
    lab TEXT,
    lab_ref TEXT,
    document INTEGER REFERENCES documents(number),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0),
    CHECK ((subject = 'lot') = (lot IS NOT NULL) AND (subject = 'cow') = (cow IS NOT NULL))
) STRICT;
CREATE INDEX samples_lot ON samples (lot);
CREATE INDEX samples_cow ON samples (cow);
CREATE INDEX samples_drawn ON samples (drawn);

-- Results of one bottle shared its day, lot, cow and lab's reference; each such bottle becomes one sample. What was not
-- written down as a lot or a cow was a swab or water, and nobody can say which: it is kept as a swab, with a note.
INSERT INTO samples (entry, drawn, subject, lot, cow, place, lab, lab_ref, note, written, who, source, version)
SELECT lower(hex(randomblob(4)) || '-' || hex(randomblob(2)) || '-4' || substr(hex(randomblob(2)), 2) || '-a' || substr(hex(randomblob(2)), 2) || '-' || hex(randomblob(6))),
       drawn, CASE WHEN lot IS NOT NULL THEN 'lot' WHEN cow IS NOT NULL THEN 'cow' ELSE 'swab' END, lot, CASE WHEN lot IS NULL THEN cow END, NULL,
       lab, lab_ref, CASE WHEN lot IS NULL AND cow IS NULL THEN 'Kept before samples had a subject.' END, min(written), who, 'form 1', 1
FROM results GROUP BY drawn, lot, cow, lab, lab_ref ORDER BY min(number);
CREATE TABLE results_2 (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    sample INTEGER NOT NULL REFERENCES samples(number),
    analyte TEXT NOT NULL,
    figure TEXT NOT NULL,
    unit TEXT,
    part INTEGER CHECK (part >= 0),
    method TEXT,
    plates TEXT,
    reported TEXT NOT NULL,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
INSERT INTO results_2 SELECT r.number, r.entry,
       (SELECT s.number FROM samples s WHERE s.drawn = r.drawn AND s.lot IS r.lot AND (r.lot IS NOT NULL OR s.cow IS r.cow) AND s.lab IS r.lab AND s.lab_ref IS r.lab_ref ORDER BY s.number LIMIT 1),
       r.analyte, r.figure, r.unit, NULL, NULL, NULL, r.reported, NULL, r.written, r.who, r.source, r.version FROM results r;
DROP TABLE results;
ALTER TABLE results_2 RENAME TO results;
CREATE INDEX results_sample ON results (sample);

CREATE TABLE renewals (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    sort TEXT NOT NULL,
    what TEXT NOT NULL,
    done TEXT NOT NULL,
    until TEXT,
    cow INTEGER REFERENCES cows(number),
    document INTEGER REFERENCES documents(number),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
CREATE INDEX renewals_done ON renewals (done);

-- What officials and customers asked for, and when it was answered.
CREATE TABLE notices (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    sort TEXT NOT NULL,
    at INTEGER NOT NULL,
    sender TEXT NOT NULL,
    due TEXT,
    answered INTEGER,
    document INTEGER REFERENCES documents(number),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
CREATE INDEX notices_at ON notices (at);

-- What the owner decided on a lot of which the records say Wait or Can't tell, with what was known then, for ever.
CREATE TABLE decisions (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    lot INTEGER NOT NULL REFERENCES lots(number),
    at INTEGER NOT NULL,
    over TEXT NOT NULL,
    verdict TEXT NOT NULL,
    because TEXT NOT NULL,
    facts TEXT NOT NULL,
    reason TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;
CREATE INDEX decisions_lot ON decisions (lot);
