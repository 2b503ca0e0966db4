-- A trace reckoned by SQLite's own command line from an exported farm folder, sharing no code with the program.
-- Run it in the folder, after making a table `asked (lot)` with the codes to trace.
-- Every line begins with the lot asked about and then says what it is:
--   lot, code, certain or possible
--   handed, hand-out, lot, person or nothing, gallons, half-gallons, quarts, pints
--   filled / handed out / on hand and so on: place, lot, gallons, half-gallons, quarts, pints
--   off, lot, what is missing (below nothing: too much) at the last count, by size

.import --csv lots.csv lots
.import --csv sources.csv sources
.import --csv pails.csv pails
.import --csv milkings.csv milkings
.import --csv breaks.csv breaks
.import --csv pickups.csv pickups
.import --csv asides.csv asides
.import --csv counts.csv counts

-- What milk flows along: from a milking into a lot, from a lot into a lot made of it.
CREATE TABLE edges AS
    SELECT 'M' || milking AS giver, 'L' || lot AS taker FROM sources WHERE milking <> ''
    UNION SELECT 'L' || parent, 'L' || lot FROM sources WHERE parent <> '';
CREATE INDEX edges_giver ON edges (giver);
CREATE INDEX edges_taker ON edges (taker);

-- Each use of a vessel, with how many clean breaks come before it and how many by it. Two uses are parted only by a clean
-- break strictly between them.
CREATE TABLE clean AS SELECT vessel, unixepoch(at) AS at FROM breaks WHERE washed = 'yes' AND sanitised = 'yes';
CREATE TABLE uses AS
    SELECT vessel, unixepoch(filled) AS at, code AS lot FROM lots WHERE vessel <> ''
    UNION SELECT p.vessel, unixepoch(m.started), s.lot
    FROM pails p JOIN milkings m ON m.session = p.milking JOIN sources s ON s.milking = p.milking WHERE p.went = 'can' AND p.vessel <> '';
CREATE TABLE placed AS
    SELECT vessel, at, lot,
        (SELECT count(*) FROM clean c WHERE c.vessel = u.vessel AND c.at < u.at) AS before,
        (SELECT count(*) FROM clean c WHERE c.vessel = u.vessel AND c.at <= u.at) AS by_then
    FROM uses u;
CREATE INDEX placed_vessel ON placed (vessel, before);
CREATE TABLE ties AS
    SELECT 'L' || a.lot AS one, 'L' || b.lot AS other
    FROM placed a JOIN placed b ON b.vessel = a.vessel AND b.before BETWEEN a.before AND a.by_then AND b.at >= a.at AND b.lot <> a.lot;
CREATE TABLE pots AS SELECT one, other FROM ties UNION SELECT other, one FROM ties;
CREATE INDEX pots_one ON pots (one);

-- Certain: back along the milk, and forward again.
CREATE TABLE behind AS WITH RECURSIVE walk (asked, node) AS (
    SELECT lot, 'L' || lot FROM asked
    UNION SELECT asked, giver FROM walk JOIN edges ON taker = node)
SELECT * FROM walk;
CREATE TABLE ahead AS WITH RECURSIVE walk (asked, node) AS (
    SELECT * FROM behind
    UNION SELECT asked, taker FROM walk JOIN edges ON giver = node)
SELECT * FROM walk;
-- Possible: the same, with every vessel taken for one pot between its clean breaks.
CREATE TABLE may_be_behind AS WITH RECURSIVE walk (asked, node) AS (
    SELECT * FROM behind
    UNION SELECT asked, next FROM walk JOIN (SELECT taker AS node, giver AS next FROM edges UNION ALL SELECT one, other FROM pots) USING (node))
SELECT * FROM walk;
CREATE TABLE may_be_ahead AS WITH RECURSIVE walk (asked, node) AS (
    SELECT * FROM (SELECT * FROM ahead UNION SELECT * FROM may_be_behind)
    UNION SELECT asked, next FROM walk JOIN (SELECT giver AS node, taker AS next FROM edges UNION ALL SELECT one, other FROM pots) USING (node))
SELECT * FROM walk;
CREATE TABLE spread AS
    SELECT asked, substr(node, 2) AS lot, EXISTS (SELECT 1 FROM ahead a WHERE a.asked = m.asked AND a.node = m.node) AS certain
    FROM may_be_ahead m WHERE node LIKE 'L%';

-- What came and went.
CREATE TABLE moved AS
    SELECT 'filled' AS place, code AS lot, unixepoch(filled) AS at, 1 AS way, gallons, half_gallons, quarts, pints FROM lots
    UNION ALL SELECT 'handed out', lot, unixepoch(at), -1, gallons, half_gallons, quarts, pints FROM pickups
    UNION ALL SELECT sort, lot, unixepoch(at), CASE sort WHEN 'returned' THEN 1 ELSE -1 END, gallons, half_gallons, quarts, pints FROM asides;
CREATE INDEX moved_lot ON moved (lot);
CREATE TABLE last_counts AS
    SELECT lot, unixepoch(at) AS at, gallons, half_gallons, quarts, pints FROM counts c
    WHERE number = (SELECT number FROM counts o WHERE o.lot = c.lot ORDER BY unixepoch(o.at) DESC, CAST(o.number AS INTEGER) DESC LIMIT 1);
CREATE INDEX last_counts_lot ON last_counts (lot);

.mode list
.separator |
SELECT asked, 'lot', lot, CASE certain WHEN 1 THEN 'certain' ELSE 'possible' END FROM spread ORDER BY 1, 3;
SELECT s.asked, 'handed', p.number, p.lot, p.person, p.gallons, p.half_gallons, p.quarts, p.pints FROM spread s JOIN pickups p ON p.lot = s.lot ORDER BY 1, CAST(p.number AS INTEGER);
SELECT s.asked, m.place, s.lot, sum(m.gallons), sum(m.half_gallons), sum(m.quarts), sum(m.pints)
FROM spread s JOIN moved m ON m.lot = s.lot GROUP BY s.asked, s.lot, m.place ORDER BY 1, 3, 2;
SELECT s.asked, 'on hand', s.lot, gallons, half_gallons, quarts, pints FROM spread s JOIN last_counts c ON c.lot = s.lot ORDER BY 1, 3;
SELECT s.asked, 'off', s.lot,
    sum(m.way * m.gallons) - c.gallons, sum(m.way * m.half_gallons) - c.half_gallons, sum(m.way * m.quarts) - c.quarts, sum(m.way * m.pints) - c.pints
FROM spread s JOIN last_counts c ON c.lot = s.lot JOIN moved m ON m.lot = s.lot AND (m.at <= c.at OR m.place = 'filled')
GROUP BY s.asked, s.lot ORDER BY 1, 3;
