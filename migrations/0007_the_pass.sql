-- Form 7: the inspector's pass. Which days it shows and how long it opens, the visits made with it, and what was looked at. A pass is
-- a key and no record: like a PIN it has no place in the journal or the farm folder.

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
