-- Form 4: what a household is promised is a record of its own, with a beginning and an end; so are pauses, stand-in collectors,
-- agreements, a day's packing, empty jars and the books. A rule set may name what a household needs first.

CREATE TABLE rules_4 (
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
    needs TEXT,
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
INSERT INTO rules_4 (number, entry, place, since, title, citation, url, text_date, sure, beside, channels, steps, limits, tests, caps, resample_after, resample_within, fresh_before, fresh_days, fresh_milkings, strip_fails, best_by_days, best_by_from, keep_years, notes, check_by, why, written, who, source, version)
SELECT number, entry, place, since, title, citation, url, text_date, sure, beside, channels, steps, limits, tests, caps, resample_after, resample_within, fresh_before, fresh_days, fresh_milkings, strip_fails, best_by_days, best_by_from, keep_years, notes, check_by, why, written, who, source, version FROM rules;
DROP TABLE rules;
ALTER TABLE rules_4 RENAME TO rules;

-- A name that was erased leaves a line that says so.
CREATE TABLE journal_4 (
    seq INTEGER PRIMARY KEY,
    act INTEGER NOT NULL,
    at INTEGER NOT NULL,
    who TEXT NOT NULL,
    did TEXT NOT NULL CHECK (did IN ('kept', 'imported', 'corrected', 'struck', 'undone', 'erased')),
    kind TEXT NOT NULL,
    number INTEGER NOT NULL,
    before TEXT,
    after TEXT,
    why TEXT,
    seal TEXT NOT NULL
) STRICT;
INSERT INTO journal_4 SELECT seq, act, at, who, did, kind, number, before, after, why, seal FROM journal;
DROP TABLE journal;
ALTER TABLE journal_4 RENAME TO journal;
CREATE INDEX journal_record ON journal (kind, number);
CREATE INDEX journal_act ON journal (act);

CREATE TABLE terms (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    channel TEXT NOT NULL,
    since TEXT NOT NULL,
    share_cost INTEGER,
    boarding INTEGER,
    jar INTEGER,
    deposit INTEGER,
    missed TEXT,
    herd_shares INTEGER CHECK (herd_shares >= 0),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE shares (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    person INTEGER NOT NULL REFERENCES people(number),
    share TEXT,
    part TEXT NOT NULL,
    half_gallons INTEGER NOT NULL CHECK (half_gallons >= 0),
    channel TEXT NOT NULL,
    since TEXT NOT NULL,
    until TEXT,
    place INTEGER CHECK (place >= 0),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE pauses (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    person INTEGER REFERENCES people(number),
    since TEXT NOT NULL,
    until TEXT NOT NULL,
    moved_to TEXT,
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE collectors (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    person INTEGER NOT NULL REFERENCES people(number),
    name TEXT NOT NULL,
    reach TEXT,
    since TEXT NOT NULL,
    until TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE agreements (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    person INTEGER NOT NULL REFERENCES people(number),
    sort TEXT NOT NULL,
    given TEXT NOT NULL,
    signed TEXT,
    until TEXT,
    document INTEGER REFERENCES documents(number),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE packings (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    day TEXT NOT NULL,
    at INTEGER NOT NULL,
    method TEXT NOT NULL,
    ready INTEGER NOT NULL CHECK (ready >= 0),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE portions (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    packing INTEGER NOT NULL REFERENCES packings(number),
    person INTEGER NOT NULL REFERENCES people(number),
    promised TEXT NOT NULL,
    fair TEXT NOT NULL,
    carried TEXT NOT NULL,
    jars INTEGER NOT NULL CHECK (jars >= 0),
    reason TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE crates (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    packing INTEGER NOT NULL REFERENCES packings(number),
    person INTEGER NOT NULL REFERENCES people(number),
    lot INTEGER NOT NULL REFERENCES lots(number),
    half_gallons INTEGER NOT NULL CHECK (half_gallons >= 0),
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE TABLE empties (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    person INTEGER NOT NULL REFERENCES people(number),
    sort TEXT NOT NULL,
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

CREATE TABLE transfers (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    day TEXT NOT NULL,
    sort TEXT NOT NULL,
    from_account TEXT NOT NULL,
    to_account TEXT NOT NULL,
    person INTEGER REFERENCES people(number),
    amount INTEGER NOT NULL CHECK (amount > 0),
    paid_by TEXT,
    month TEXT,
    jars INTEGER CHECK (jars >= 0),
    corrects INTEGER REFERENCES transfers(number),
    note TEXT,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0),
    CHECK (from_account <> to_account),
    CHECK ((from_account NOT IN ('household', 'jar deposits') AND to_account NOT IN ('household', 'jar deposits')) OR person IS NOT NULL)
) STRICT;

CREATE TABLE tin_counts (
    number INTEGER PRIMARY KEY,
    entry TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL,
    counted INTEGER NOT NULL,
    counter TEXT NOT NULL,
    written INTEGER NOT NULL,
    who TEXT NOT NULL,
    source TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0)
) STRICT;

CREATE INDEX shares_person ON shares (person);
CREATE INDEX pauses_until ON pauses (until);
CREATE INDEX collectors_person ON collectors (person);
CREATE INDEX agreements_person ON agreements (person);
-- One packing for a day, one portion for a household in it, one line for each lot in its crate: two phones that pack the same day
-- cannot both be right, and the second is told so.
CREATE UNIQUE INDEX packings_day ON packings (day);
CREATE UNIQUE INDEX portions_once ON portions (packing, person);
CREATE INDEX portions_person ON portions (person);
CREATE UNIQUE INDEX crates_once ON crates (packing, person, lot);
CREATE INDEX empties_person ON empties (person, at);
CREATE INDEX transfers_day ON transfers (day);
CREATE INDEX transfers_person ON transfers (person, day);
-- An entry is taken back once.
CREATE UNIQUE INDEX transfers_corrects ON transfers (corrects) WHERE corrects IS NOT NULL;

-- What a household was promised stood with the household; it becomes a promise that began with it.
INSERT INTO shares (entry, person, share, part, half_gallons, channel, since, until, place, note, written, who, source, version)
SELECT lower(hex(randomblob(4)) || '-' || hex(randomblob(2)) || '-4' || substr(hex(randomblob(2)), 2) || '-a' || substr(hex(randomblob(2)), 2) || '-' || hex(randomblob(6))),
       number, NULL, '1', share_jars, channel, since, until, NULL, NULL, written, who, 'form 3', 1
FROM people WHERE share_jars > 0 ORDER BY number;
ALTER TABLE people DROP COLUMN share_jars;

-- The PIN a household opens its own page with, and the short visits it opens. Never part of the farm folder.
CREATE TABLE pins (
    person INTEGER PRIMARY KEY REFERENCES people(number) ON DELETE CASCADE,
    secret TEXT NOT NULL,
    made INTEGER NOT NULL
) STRICT;
CREATE TABLE visits (
    token_hash TEXT PRIMARY KEY,
    person INTEGER NOT NULL REFERENCES people(number) ON DELETE CASCADE,
    seal TEXT NOT NULL,
    until INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
