-- The cost of a half-gallon worked out a second time, from the exported farm folder alone, by SQLite's own program: no line
-- of Tallypail's own reckoning is used. Run in the folder, with the days bound as :from and :to before it is read.
--
-- All money is whole cents. A part of an amount is rounded once, half away from zero, which for whole numbers is
-- (2 * part + whole) / (2 * whole), and for a credit the same with its sign turned twice.

.import --csv tickets.csv tickets
.import --csv gear.csv gear
.import --csv minutes.csv minutes
.import --csv assumptions.csv assumptions
.import --csv milkings.csv milkings
.import --csv pails.csv pails
.import --csv lots.csv lots
.import --csv sources.csv sources
.import --csv pickups.csv pickups
.import --csv asides.csv asides
.mode list
.separator =

-- A figure as it stood on the last day; before the first was named, the first. In millionths.
CREATE TEMP TABLE assumed AS
SELECT DISTINCT name,
       (SELECT CAST(round(CAST(b.figure AS REAL) * 1000000) AS INTEGER) FROM assumptions b WHERE b.name = a.name
        ORDER BY b.since > :to, CASE WHEN b.since > :to THEN julianday(b.since) ELSE -julianday(b.since) END,
                 CASE WHEN b.since > :to THEN CAST(b.number AS INTEGER) ELSE -CAST(b.number AS INTEGER) END LIMIT 1) AS millionths
FROM assumptions a;

-- Tickets: what was paid in the days, and what was used up in them, both only as far as they are for milk.
CREATE TEMP TABLE bills AS
WITH plain AS (
    SELECT paid, CAST(milk_share AS INTEGER) AS part,
           CASE WHEN sort = 'calf sold' OR amount LIKE '-%' THEN -1 ELSE 1 END AS sign,
           abs(CAST(replace(amount, '.', '') AS INTEGER)) AS cents,
           CASE covers_from WHEN '' THEN paid ELSE covers_from END AS first,
           CASE covers_to WHEN '' THEN paid ELSE covers_to END AS last
    FROM tickets),
sensible AS (
    SELECT paid, part, sign, cents, CASE WHEN last < first THEN paid ELSE first END AS first, CASE WHEN last < first THEN paid ELSE last END AS last FROM plain),
days AS (
    SELECT *, CAST(julianday(last) - julianday(first) AS INTEGER) + 1 AS covered,
           max(0, CAST(julianday(min(last, :to)) - julianday(max(first, :from)) AS INTEGER) + 1) AS both
    FROM sensible)
SELECT CASE WHEN paid BETWEEN :from AND :to THEN sign * ((2 * cents * part + 100) / 200) ELSE 0 END AS cash,
       sign * ((2 * cents * part * both + 100 * covered) / (200 * covered)) AS used
FROM days;

-- What wears: straight-line wear, and what it is with interest. A machine has one or the other; a cow has her wear in both,
-- and her risk of death and interest beside hours.
CREATE TEMP TABLE things AS
WITH plain AS (
    SELECT sort = 'cow' AS cow, bought, gone, CAST(milk_share AS INTEGER) AS part, CAST(life_years AS INTEGER) AS years,
           CAST(replace(price, '.', '') AS INTEGER) AS price, CAST(replace(salvage, '.', '') AS INTEGER) AS salvage
    FROM gear),
lived AS (
    SELECT *, date(bought, (365 * years - 1) || ' days') AS worn_out FROM plain),
held AS (
    SELECT *, max(0, CAST(julianday(min(:to, CASE WHEN gone <> '' AND gone < worn_out THEN gone ELSE worn_out END))
                          - julianday(max(bought, :from)) AS INTEGER) + 1) AS days,
           coalesce((SELECT millionths FROM assumed WHERE name = 'interest %'), 0) AS interest,
           coalesce((SELECT millionths FROM assumed WHERE name = 'death loss %'), 0) AS deaths
    FROM lived)
SELECT (2 * (price - salvage) * days * part + 36500 * years) / (2 * 36500 * years) AS wear,
       CASE WHEN cow THEN
            (2 * (price - salvage) * days * part + 36500 * years) / (2 * 36500 * years)
            + ((price + salvage) * (deaths / 100) * days * part + 36500000000) / (2 * 36500000000)
            + ((price + salvage) * (interest / 100) * days * part + 36500000000) / (2 * 36500000000)
       WHEN interest = 0 THEN (2 * (price - salvage) * days * part + 36500 * years) / (2 * 36500 * years)
       ELSE CAST(((price - salvage) * (interest / 1e8) / (1 - pow(1 + interest / 1e8, -years)) + salvage * (interest / 1e8)) * days * part / 36500 + 0.5 AS INTEGER)
       END AS recovered
FROM held;

-- Minutes: hired with what the employer pays on top, unpaid at the worth of an hour; once for each job, person and wage.
CREATE TEMP TABLE work AS
WITH jobs AS (
    SELECT job, person, wage, sum(CAST(minutes AS INTEGER)) AS minutes FROM minutes WHERE day BETWEEN :from AND :to GROUP BY job, person, wage)
SELECT wage <> '' AS hired, minutes,
       CASE WHEN wage <> ''
            THEN (2 * minutes * CAST(replace(wage, '.', '') AS INTEGER) * (100000000 + coalesce((SELECT millionths FROM assumed WHERE name = 'payroll burden %'), 0)) + 6000000000) / (2 * 6000000000)
            ELSE (2 * minutes * ((SELECT millionths FROM assumed WHERE name = 'worth of an hour') / 10000) + 60) / 120 END AS cents
FROM jobs;

CREATE TEMP TABLE land AS
SELECT (2 * 12 * (coalesce((SELECT millionths FROM assumed WHERE name = 'own land a month'), 0) / 10000)
        * (CAST(julianday(:to) - julianday(:from) AS INTEGER) + 1) + 365) / 730 AS cents;

CREATE TEMP TABLE views AS
SELECT (SELECT coalesce(sum(cash), 0) FROM bills) + hired AS cash,
       (SELECT coalesce(sum(used), 0) FROM bills) + hired + (SELECT coalesce(sum(wear), 0) FROM things) AS wear,
       (SELECT coalesce(sum(used), 0) FROM bills) + hired + (SELECT coalesce(sum(recovered), 0) FROM things) + (SELECT cents FROM land) + unpaid AS hours,
       unpaid
FROM (SELECT coalesce(sum(cents) FILTER (WHERE hired), 0) AS hired, coalesce(sum(cents) FILTER (WHERE NOT hired), 0) AS unpaid FROM work);

-- Milk, in half-gallons: one is 4.3 lb, and a pound is 453592.37 mg. A day is the day the farm's own clock showed.
CREATE TEMP TABLE milk AS
SELECT (SELECT coalesce(sum(round(CASE WHEN p.milk LIKE '% lb' THEN CAST(p.milk AS REAL) * 453592.37 WHEN p.milk LIKE '% kg' THEN CAST(p.milk AS REAL) * 1000000 END)), 0)
        FROM pails p JOIN milkings m ON m.session = p.milking WHERE substr(m.started, 1, 10) BETWEEN :from AND :to) / (4.3 * 453592.37) AS produced,
       (SELECT coalesce(sum(2 * gallons + half_gallons + quarts / 2.0 + pints / 4.0), 0) FROM lots
        WHERE substr(filled, 1, 10) BETWEEN :from AND :to AND code NOT IN (SELECT lot FROM sources WHERE parent <> '')) AS fit,
       (SELECT coalesce(sum(2 * gallons + half_gallons + quarts / 2.0 + pints / 4.0), 0) FROM pickups WHERE substr(at, 1, 10) BETWEEN :from AND :to)
       - (SELECT coalesce(sum(2 * gallons + half_gallons + quarts / 2.0 + pints / 4.0), 0) FROM asides
          WHERE sort = 'returned' AND substr(at, 1, 10) BETWEEN :from AND :to) AS reached;

SELECT 'cash', printf('%.2f', cash / 100.0) FROM views;
SELECT 'wear', printf('%.2f', wear / 100.0) FROM views;
SELECT 'hours', printf('%.2f', hours / 100.0) FROM views;
SELECT 'produced', printf('%.1f', produced) FROM milk;
SELECT 'fit', printf('%.1f', fit + 1e-9) FROM milk;
SELECT 'reached', printf('%.1f', reached + 1e-9) FROM milk;
SELECT 'each', printf('%.2f', hours / 100.0 / reached) FROM views, milk WHERE reached > 0;
SELECT 'hour', printf('%.2f', (reached * (SELECT millionths FROM assumed WHERE name = 'a half-gallon brings') / 1e6 - (hours - unpaid) / 100.0)
                              * 60 / (SELECT sum(minutes) FROM work WHERE NOT hired)) FROM views, milk;
SELECT 'pails in another unit', count(*) FROM pails WHERE milk NOT LIKE '% lb' AND milk NOT LIKE '% kg';
