-- Form 7: the inspector's pass. Which days it shows and how long it opens, the visits made with it, and what was looked at. A pass is
-- a key and no record: like a PIN it has no place in the journal or the farm folder. And two indexes, so that what a day asks of a long
-- life is no walk through everything that ever happened.

CREATE TABLE passes (
    number INTEGER PRIMARY KEY,
    named TEXT NOT NULL UNIQUE,
    secret TEXT NOT NULL,
    for_whom TEXT NOT NULL,
    since TEXT NOT NULL,
    until TEXT NOT NULL,
    last_day TEXT NOT NULL,
    names TEXT NOT NULL CHECK (names IN ('yes', 'no')),
    made INTEGER NOT NULL,
    who TEXT NOT NULL,
    withdrawn INTEGER
) STRICT;

CREATE TABLE pass_visits (
    token_hash TEXT PRIMARY KEY,
    pass INTEGER NOT NULL REFERENCES passes(number),
    seal TEXT NOT NULL,
    until INTEGER NOT NULL
) STRICT;

CREATE TABLE pass_views (
    number INTEGER PRIMARY KEY,
    pass INTEGER NOT NULL REFERENCES passes(number),
    at INTEGER NOT NULL,
    what TEXT NOT NULL,
    address TEXT NOT NULL
) STRICT;

CREATE INDEX pass_views_pass ON pass_views (pass, at);

DROP INDEX pickups_lot;
CREATE INDEX pickups_lot ON pickups (lot, gallons, half_gallons, quarts, pints);
CREATE INDEX pickups_written ON pickups (written);
