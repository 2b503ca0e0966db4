-- The gaps of a farm counted a second time, from the exported farm folder alone, by SQLite's own program: no line of Tallypail's own
-- judging is used. Run in the folder, with the first and the last day bound as :from and :to. It knows the one rule set of the sample
-- farm: 40 °F within 120 minutes of the end of milking and after that, two plate counts and two tests for coliforms a month.
-- Every line is what is looked for, an equals sign, and how many gaps.

.import --csv lots.csv lots
.import --csv sources.csv sources
.import --csv milkings.csv milkings
.import --csv pails.csv pails
.import --csv breaks.csv breaks
.import --csv chill.csv chill
.import --csv counts.csv counts
.import --csv pickups.csv pickups
.import --csv asides.csv asides
.import --csv holds.csv holds
.import --csv lifts.csv lifts
.import --csv treatments.csv treatments
.import --csv ice_checks.csv ice_checks
.import --csv renewals.csv renewals
.import --csv samples.csv samples
.import --csv results.csv results
.mode list
.separator =

-- A day on the farm's clock is the first ten characters: the files carry the farm's own offset.
CREATE TABLE shown AS SELECT code, unixepoch(filled) AS filled, vessel, substr(filled, 1, 10) AS day FROM lots WHERE substr(filled, 1, 10) BETWEEN :from AND :to;
-- What a reading shows at worst: as much more as its thermometer was off at the check before it or the one after it, whichever was more.
CREATE TABLE checked AS SELECT lower(thermometer) AS name, unixepoch(at) AS at, abs(CAST(replace(reading, ' °F', '') AS REAL) - 32) AS off FROM ice_checks;
CREATE TABLE read AS SELECT lot, unixepoch(at) AS at, CAST(replace(temperature, ' °F', '') AS REAL) + max(
    coalesce((SELECT off FROM checked k WHERE k.name = lower(thermometer) AND k.at <= unixepoch(chill.at) ORDER BY k.at DESC LIMIT 1), 0),
    coalesce((SELECT off FROM checked k WHERE k.name = lower(thermometer) AND k.at > unixepoch(chill.at) ORDER BY k.at LIMIT 1), 0)) AS f FROM chill;
CREATE INDEX read_lot ON read (lot, at);
CREATE TABLE milked AS
    SELECT s.lot, max(unixepoch(m.ended)) AS ended, min(unixepoch(m.started)) AS began, max(unixepoch(m.started)) AS last
    FROM sources s JOIN milkings m ON m.session = s.milking WHERE s.milking <> '' GROUP BY s.lot;
CREATE INDEX milked_lot ON milked (lot);

-- Milk from the cow: a reading at 40 °F or less, from the end of milking up to two hours after it, and no warmer one behind it up to
-- then; and none above 40 °F later. Milk made of other lots: one at 40 °F or less since it was made, and none above.
CREATE TABLE cold AS
SELECT s.code, (SELECT count(*) FROM read r WHERE r.lot = s.code) AS readings,
    CASE WHEN m.lot IS NOT NULL THEN
        EXISTS (SELECT 1 FROM read r WHERE r.lot = s.code AND r.f <= 40 AND r.at BETWEEN m.ended AND m.ended + 7200
            AND NOT EXISTS (SELECT 1 FROM read w WHERE w.lot = s.code AND w.f > 40 AND w.at >= r.at AND w.at <= m.ended + 7200))
        AND NOT EXISTS (SELECT 1 FROM read w WHERE w.lot = s.code AND w.f > 40 AND w.at > m.ended + 7200)
    ELSE
        EXISTS (SELECT 1 FROM read r WHERE r.lot = s.code AND r.f <= 40 AND r.at >= s.filled)
        AND NOT EXISTS (SELECT 1 FROM read w WHERE w.lot = s.code AND w.f > 40 AND w.at >= s.filled)
    END AS shown
FROM shown s LEFT JOIN milked m ON m.lot = s.code;
SELECT 'Lots nobody read', count(*) FROM cold WHERE readings = 0;
SELECT 'Lots not shown to be cold in time', count(*) FROM cold WHERE readings > 0 AND NOT shown;

-- A dose keeps milk out for its hours, the last hour too; the milk of a milking that began then and went into the can is in its lot.
SELECT 'Milk of a treated cow, too soon', count(DISTINCT s.code) FROM shown s JOIN sources o ON o.lot = s.code AND o.milking <> ''
    JOIN milkings m ON m.session = o.milking JOIN pails p ON p.milking = o.milking AND p.went = 'can' JOIN treatments t ON t.cow = p.cow
    WHERE t.milk_hours <> '' AND unixepoch(m.started) BETWEEN unixepoch(t.at) AND unixepoch(t.at) + 3600 * t.milk_hours;
SELECT 'Treatments without a time for the milk', count(*) FROM treatments
    WHERE milk_hours = '' AND milk_milkings = '' AND substr(at, 1, 10) BETWEEN :from AND :to;

-- A vessel with another milking in it, in the ten days before, and no washing with sanitising from that milking on up to this one.
CREATE TABLE clean AS SELECT vessel, unixepoch(at) AS at FROM breaks WHERE washed = 'yes' AND sanitised = 'yes';
CREATE INDEX clean_vessel ON clean (vessel, at);
CREATE TABLE used AS SELECT DISTINCT p.vessel, unixepoch(m.started) AS at, p.milking FROM pails p JOIN milkings m ON m.session = p.milking WHERE p.went = 'can' AND p.vessel <> '';
CREATE INDEX used_vessel ON used (vessel, at);
CREATE TABLE through AS
    SELECT lot, vessel, min(at) AS began FROM (
        SELECT s.code AS lot, u.vessel, u.at FROM shown s JOIN sources o ON o.lot = s.code JOIN used u ON u.milking = o.milking
        UNION ALL SELECT code, vessel, filled FROM shown WHERE vessel <> '') GROUP BY lot, vessel;
SELECT 'Lots through a vessel nobody washed', count(DISTINCT t.lot) FROM through t JOIN shown s ON s.code = t.lot JOIN used u ON u.vessel = t.vessel
    WHERE u.at > t.began - 864000 AND u.at < s.filled
      AND NOT EXISTS (SELECT 1 FROM sources o WHERE o.lot = t.lot AND o.milking = u.milking)
      AND NOT EXISTS (SELECT 1 FROM clean c WHERE c.vessel = t.vessel AND c.at BETWEEN min(u.at, t.began) AND max(u.at, t.began));

-- Tests: from the first day of the month after one with fewer than two days of each test, until a month has them. A month that fell
-- short right after another is the same gap. And tests of the herd whose paper ran out before the next.
CREATE TABLE months AS
WITH RECURSIVE m(first) AS (SELECT '2025-09-01' UNION ALL SELECT date(first, '+1 month') FROM m WHERE date(first, '+1 month') <= :to)
SELECT first, t.test, (SELECT count(DISTINCT substr(s.drawn, 1, 10)) FROM results r JOIN samples s ON s.number = r.sample
    WHERE r.analyte = t.test AND s.subject = 'lot' AND substr(s.drawn, 1, 7) = substr(first, 1, 7)) AS days
FROM m, (SELECT 'plate count' AS test UNION SELECT 'coliforms') t;
CREATE TABLE short AS SELECT * FROM months a WHERE days < 2 AND date(first, '+1 month') <= :to;
CREATE TABLE papers AS
SELECT sort, lower(trim(what)) AS what, cow, done, until, (SELECT min(o.done) FROM renewals o WHERE o.sort = r.sort AND lower(trim(o.what)) = lower(trim(r.what)) AND o.cow = r.cow
    AND (o.done, CAST(o.number AS INTEGER)) > (r.done, CAST(r.number AS INTEGER))) AS next FROM renewals r WHERE until <> '';
CREATE TABLE lapsed AS SELECT * FROM papers WHERE max(date(until, '+1 day'), :from) <= min(:to, coalesce(date(next, '-1 day'), :to));
SELECT 'Tests and inspections past their day',
    (SELECT count(*) FROM short a WHERE NOT EXISTS (SELECT 1 FROM short b WHERE b.test = a.test AND b.first = date(a.first, '-1 month'))
        AND (date(a.first, '+1 month') >= :from OR EXISTS (SELECT 1 FROM short b WHERE b.test = a.test AND date(b.first, '+1 month') >= :from AND b.first = date(a.first, '+1 month'))))
  + (SELECT count(*) FROM lapsed WHERE sort IN ('TB test', 'brucellosis test', 'rabies vaccination', 'herd health exam', 'vet exam with blood test', 'inspection'));
SELECT 'Permits and papers that ran out', count(*) FROM lapsed WHERE sort IN ('permit', 'agreement', 'insurance', 'other');

-- A reading more than a month after the last check of its thermometer, or with none before it; readings with the same last check are
-- one gap.
SELECT 'Thermometers unchecked, off or unnamed', count(DISTINCT lower(trim(thermometer)) || coalesce(checked, 'never')) FROM (
    SELECT c.thermometer, substr(c.at, 1, 10) AS day, (SELECT max(substr(i.at, 1, 10)) FROM ice_checks i WHERE lower(i.thermometer) = lower(c.thermometer) AND unixepoch(i.at) <= unixepoch(c.at)) AS checked
    FROM chill c WHERE substr(c.at, 1, 10) BETWEEN :from AND :to) WHERE checked IS NULL OR date(checked, '+1 month') < day;

-- Jars of the last count beside jars filled and brought back, less all that went, up to then, size by size.
CREATE TABLE moved AS
    SELECT code AS lot, unixepoch(filled) AS at, gallons + 0 AS g, half_gallons + 0 AS h, quarts + 0 AS q, pints + 0 AS p FROM lots
    UNION ALL SELECT lot, unixepoch(at), -gallons, -half_gallons, -quarts, -pints FROM pickups
    UNION ALL SELECT lot, unixepoch(at), gallons * d, half_gallons * d, quarts * d, pints * d FROM (SELECT *, CASE sort WHEN 'returned' THEN 1 ELSE -1 END AS d FROM asides);
CREATE INDEX moved_lot ON moved (lot, at);
SELECT 'Lots whose jars do not square', count(*) FROM (
    SELECT c.lot, unixepoch(c.at) AS at, c.gallons + 0 AS g, c.half_gallons + 0 AS h, c.quarts + 0 AS q, c.pints + 0 AS p FROM counts c JOIN shown s ON s.code = c.lot
    WHERE NOT EXISTS (SELECT 1 FROM counts l WHERE l.lot = c.lot AND (unixepoch(l.at), CAST(l.number AS INTEGER)) > (unixepoch(c.at), CAST(c.number AS INTEGER)))) k
    WHERE (SELECT sum(g) <> k.g OR sum(h) <> k.h OR sum(q) <> k.q OR sum(p) <> k.p FROM moved m WHERE m.lot = k.lot AND m.at <= k.at);

SELECT 'Holds nobody lifted', count(*) FROM holds h WHERE substr(h.at, 1, 10) <= :to
    AND NOT EXISTS (SELECT 1 FROM lifts l WHERE l.hold = h.number AND substr(l.at, 1, 10) <= :to);

-- More than three days between the day it happened and the day it was written; all of one kind written on one day are one gap.
CREATE TABLE wrote AS
    SELECT 'chill' AS kind, substr(at, 1, 10) AS day, substr(written, 1, 10) AS written FROM chill
    UNION ALL SELECT 'breaks', substr(at, 1, 10), substr(written, 1, 10) FROM breaks
    UNION ALL SELECT 'milkings', substr(started, 1, 10), substr(written, 1, 10) FROM milkings
    UNION ALL SELECT 'lots', substr(filled, 1, 10), substr(written, 1, 10) FROM lots
    UNION ALL SELECT 'counts', substr(at, 1, 10), substr(written, 1, 10) FROM counts
    UNION ALL SELECT 'pickups', substr(at, 1, 10), substr(written, 1, 10) FROM pickups
    UNION ALL SELECT 'asides', substr(at, 1, 10), substr(written, 1, 10) FROM asides
    UNION ALL SELECT 'holds', substr(at, 1, 10), substr(written, 1, 10) FROM holds
    UNION ALL SELECT 'lifts', substr(at, 1, 10), substr(written, 1, 10) FROM lifts
    UNION ALL SELECT 'treatments', substr(at, 1, 10), substr(written, 1, 10) FROM treatments
    UNION ALL SELECT 'ice_checks', substr(at, 1, 10), substr(written, 1, 10) FROM ice_checks
    UNION ALL SELECT 'renewals', done, substr(written, 1, 10) FROM renewals
    UNION ALL SELECT 'samples', substr(drawn, 1, 10), substr(written, 1, 10) FROM samples
    UNION ALL SELECT 'results', reported, substr(written, 1, 10) FROM results;
SELECT 'Records written more than 3 days late', count(DISTINCT kind || written) FROM wrote WHERE day BETWEEN :from AND :to AND julianday(written) - julianday(day) > 3;
