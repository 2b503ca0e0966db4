-- The cost of a half-gallon worked out a second time, from the exported farm folder alone, by SQLite's own program: no line
-- of Tallypail's own reckoning is used. Run in the folder, with the days bound as :from and :to, and the last day that is
-- reckoned as :until, before it is read.
--
-- All money is whole cents. A part of an amount is rounded once, half away from zero: for whole numbers (2 * part + whole) /
-- (2 * whole), for a credit the same with its sign turned twice, or round() where the numbers are small enough to be exact.

.import --csv tickets.csv tickets
.import --csv stores.csv stores
.import --csv feedings.csv feedings
.import --csv store_counts.csv store_counts
.import --csv gear.csv gear
.import --csv minutes.csv minutes
.import --csv usual_weeks.csv usual_weeks
.import --csv worths.csv worths
.import --csv appliances.csv appliances
.import --csv meter_readings.csv meter_readings
.import --csv transfers.csv transfers
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

-- The months of the days asked about, the first and the last cut, and how long each of them whole is.
CREATE TEMP TABLE months AS
WITH RECURSIVE m(first, last) AS (
    SELECT :from, min(:to, date(:from, 'start of month', '+1 month', '-1 day'))
    UNION ALL
    SELECT date(last, '+1 day'), min(:to, date(last, '+1 day', '+1 month', '-1 day')) FROM m WHERE last < :to)
SELECT first, last, CAST(julianday(date(first, 'start of month', '+1 month')) - julianday(date(first, 'start of month')) AS INTEGER) AS long,
       CAST(julianday(last) - julianday(first) AS INTEGER) + 1 AS days
FROM m;

-- Tickets. A calf belongs to the twelve months of milk that she opened, and lowers the cost whatever sign she was written with; a
-- calendar year ends the day before the same day, or before the last day of a February that has no 29th.
CREATE TEMP TABLE plain AS
SELECT CAST(number AS INTEGER) AS number, paid, sort, store, cow, guess, amount, quantity, unit, CAST(milk_share AS INTEGER) AS part,
       CASE WHEN sort IN ('calf sold', 'calf kept') OR amount LIKE '-%' THEN -1 ELSE 1 END AS sign,
       abs(CAST(replace(amount, '.', '') AS INTEGER)) AS cents,
       CASE covers_from WHEN '' THEN paid ELSE covers_from END AS first,
       CASE WHEN covers_to <> '' THEN covers_to
            WHEN sort IN ('calf sold', 'calf kept') AND covers_from = ''
            THEN date(paid, '+1 years', CASE WHEN substr(paid, 6) = '02-29' THEN '-2 day' ELSE '-1 day' END)
            ELSE paid END AS last
FROM tickets;
-- Once for what was paid in the days, once for what was used up in them, both only as far as they are for milk. What goes into a
-- store is used as it leaves it, a calf that stays brings no money, a loan costs its interest, and capital recovery has that already.
CREATE TEMP TABLE bills AS
WITH sensible AS (
    SELECT sort, store, paid, part, sign, cents, CASE WHEN last < first THEN paid ELSE first END AS first, CASE WHEN last < first THEN paid ELSE last END AS last FROM plain),
days AS (
    SELECT *, CAST(julianday(last) - julianday(first) AS INTEGER) + 1 AS covered,
           max(0, CAST(julianday(min(last, :to)) - julianday(max(first, :from)) AS INTEGER) + 1) AS both
    FROM sensible),
parts AS (
    SELECT sort, CASE WHEN paid BETWEEN :from AND :to AND sort <> 'calf kept' THEN sign * ((2 * cents * part + 100) / 200) ELSE 0 END AS cash,
           CASE WHEN store = '' AND sort <> 'loan principal' THEN sign * ((2 * cents * part * both + 100 * covered) / (200 * covered)) ELSE 0 END AS used
    FROM days)
SELECT cash, used AS wear, CASE sort WHEN 'loan interest' THEN 0 ELSE used END AS hours FROM parts;

-- Stores. What a measure holds: the store's own, then what the law says it is (NIST Handbook 44, Appendix C).
CREATE TEMP TABLE holds AS
WITH RECURSIVE own(store, text, one) AS (
    SELECT name, packs || ';', '' FROM stores
    UNION ALL
    SELECT store, substr(text, instr(text, ';') + 1), trim(substr(text, 1, instr(text, ';') - 1)) FROM own WHERE text <> ''),
known(counted_in, unit, holds) AS (
    VALUES ('lb', 'lb', 1.0), ('lb', 'pound', 1.0), ('lb', 'cwt', 100.0), ('lb', 'ton', 2000.0), ('lb', 'kg', 2.204622622),
           ('mL', 'ml', 1.0), ('mL', 'l', 1000.0), ('mL', 'liter', 1000.0), ('mL', 'gallon', 3785.411784), ('mL', 'gal', 3785.411784),
           ('piece', 'piece', 1.0), ('piece', 'each', 1.0), ('piece', 'dozen', 12.0))
SELECT store, lower(trim(substr(one, 1, instr(one, '=') - 1))) AS unit, CAST(trim(substr(one, instr(one, '=') + 1)) AS REAL) AS holds, 0 AS place FROM own WHERE one <> ''
UNION ALL SELECT s.name, k.unit, k.holds, 1 FROM stores s JOIN known k ON k.counted_in = s.counted_in;

CREATE TEMP TABLE words AS
SELECT unit, CASE WHEN lower(trim(unit)) = 'lbs' THEN 'lb' WHEN lower(trim(unit)) LIKE '%s' AND length(trim(unit)) > 3
                  THEN substr(lower(trim(unit)), 1, length(trim(unit)) - 1) ELSE lower(trim(unit)) END AS one
FROM (SELECT unit FROM tickets UNION SELECT unit FROM feedings UNION SELECT unit FROM store_counts);

-- Everything that happened to a store, in thousandths of what it is counted in: within a day what came (0), what was taken (1), a count (2).
CREATE TEMP TABLE came AS
SELECT t.store, t.paid AS day, 0 AS place, t.number AS ord,
       CASE WHEN t.sign < 0 THEN -1 ELSE 1 END
       * CASE WHEN t.quantity = '' THEN 0 ELSE abs(CAST(round(CAST(t.quantity AS REAL) * 1000.0
            * (SELECT h.holds FROM holds h JOIN words w ON w.one = h.unit WHERE w.unit = t.unit AND h.store = t.store ORDER BY h.place LIMIT 1)) AS INTEGER)) END AS amount,
       t.sign * t.cents AS cents, '' AS cow, t.guess = 'yes' AS guess
FROM plain t WHERE t.store <> '' AND (t.quantity <> '' OR t.sign < 0);
DELETE FROM came WHERE amount IS NULL;

CREATE TEMP TABLE counted AS
SELECT c.store, c.day, 2 AS place, CAST(c.number AS INTEGER) AS ord,
       CAST(round(CAST(c.amount AS REAL) * 1000.0
            * (SELECT h.holds FROM holds h JOIN words w ON w.one = h.unit WHERE w.unit = c.unit AND h.store = c.store ORDER BY h.place LIMIT 1)) AS INTEGER) AS amount,
       0 AS cents, '' AS cow, 0 AS guess
FROM store_counts c WHERE c.day <= :until;
DELETE FROM counted WHERE amount IS NULL;

-- So much a day goes on until the next of the same store and cow begins; what was fed in all is laid evenly over its days.
CREATE TEMP TABLE fed AS
WITH RECURSIVE one AS (
    SELECT CAST(f.number AS INTEGER) AS number, f.store, f.since, f.each, f.cow, f.guess = 'yes' AS guess,
           CAST(round(CAST(f.amount AS REAL) * 1000.0
                * (SELECT h.holds FROM holds h JOIN words w ON w.one = h.unit WHERE w.unit = f.unit AND h.store = f.store ORDER BY h.place LIMIT 1)) AS INTEGER) AS amount,
           CASE WHEN f.until <> '' THEN f.until WHEN f.each <> 'a day' THEN f.since
                ELSE coalesce((SELECT date(min(o.since), '-1 day') FROM feedings o
                               WHERE o.store = f.store AND o.cow = f.cow AND o.each = 'a day' AND o.since > f.since), :until) END AS last
    FROM feedings f),
whole AS (SELECT *, max(1, CAST(julianday(last) - julianday(since) AS INTEGER) + 1) AS days FROM one WHERE amount IS NOT NULL),
walk(number, store, day, nth, last, days, amount, each, cow, guess, since) AS (
    SELECT number, store, since, 0, last, days, amount, each, cow, guess, since FROM whole WHERE since <= min(last, :until)
    UNION ALL
    SELECT number, store, date(day, '+1 day'), nth + 1, last, days, amount, each, cow, guess, since FROM walk WHERE day < min(last, :until))
SELECT store, day, 1 AS place, number AS ord, since,
       CASE each WHEN 'a day' THEN amount ELSE amount * (nth + 1) / days - amount * nth / days END AS amount, 0 AS cents, cow, guess
FROM walk;

-- What is used up by what the ledger knows already, from the first ticket or count on.
CREATE TEMP TABLE itself AS
WITH RECURSIVE firsts AS (
    SELECT s.name, s.used_by, CAST(s.used_amount AS REAL) AS each,
           (SELECT min(day) FROM (SELECT store, day FROM came UNION ALL SELECT store, day FROM counted) WHERE store = s.name) AS first
    FROM stores s),
daily(name, day) AS (
    SELECT name, first FROM firsts WHERE used_by = 'every day' AND first <= :until
    UNION ALL SELECT name, date(day, '+1 day') FROM daily WHERE day < :until),
milked AS (
    SELECT substr(session, 1, 10) AS day, count(*) AS milkings, sum((SELECT count(*) FROM pails p WHERE p.milking = m.session)) AS cows FROM milkings m GROUP BY 1),
jarred AS (SELECT substr(filled, 1, 10) AS day, sum(gallons + half_gallons + quarts + pints) AS jars FROM lots GROUP BY 1),
times AS (
    SELECT name, day, 1 AS times FROM daily
    UNION ALL SELECT f.name, m.day, CASE f.used_by WHEN 'every milking' THEN m.milkings ELSE m.cows END FROM firsts f JOIN milked m
              WHERE f.used_by IN ('every milking', 'every cow milked') AND m.day BETWEEN f.first AND :until
    UNION ALL SELECT f.name, j.day, j.jars FROM firsts f JOIN jarred j WHERE f.used_by = 'every jar filled' AND j.day BETWEEN f.first AND :until)
SELECT t.name AS store, t.day, 1 AS place, 1000000000 AS ord, CAST(round(f.each * t.times * 1000.0) AS INTEGER) AS amount, 0 AS cents, '' AS cow, 1 AS guess
FROM times t JOIN firsts f ON f.name = t.name;
DELETE FROM itself WHERE amount <= 0;

CREATE TEMP TABLE moves AS
SELECT store, row_number() OVER (PARTITION BY store ORDER BY day, place, since, ord) AS nth, day, place, amount, cents, cow, guess FROM (
    SELECT store, day, place, '' AS since, ord, amount, cents, cow, guess FROM came
    UNION ALL SELECT store, day, place, since, ord, amount, cents, cow, guess FROM fed
    UNION ALL SELECT store, day, place, '9999', ord, amount, cents, cow, guess FROM itself
    UNION ALL SELECT store, day, place, '', ord, amount, cents, cow, guess FROM counted);
CREATE INDEX temp.moves_in_order ON moves (store, nth);

-- The heaps, move by move, each move in two steps: what it costs (1), then what is left and worth after it (2). The value is kept,
-- never a rounded price. `price` and `of` are the last known price, in cents for so many thousandths.
CREATE TEMP TABLE heaps AS
WITH RECURSIVE walk(store, nth, step, day, place, amount, cents, cow, guess, had, worth, cost, price, of) AS (
    SELECT name, 0, 2, '', 0, 0, 0, '', 0, 0, 0, 0, NULL, NULL FROM stores
    UNION ALL
    SELECT w.store, m.nth, 1, m.day, m.place, m.amount, m.cents, m.cow,
           m.guess OR (m.place = 1 AND max(w.had, 0) < m.amount), w.had, w.worth,
           CASE m.place
           WHEN 0 THEN CASE WHEN w.had < 0 AND m.amount > 0
                       THEN CAST(round(1.0 * m.cents * min(-w.had, m.amount) / m.amount) AS INTEGER) - CAST(round(1.0 * -w.worth * min(-w.had, m.amount) / -w.had) AS INTEGER)
                       ELSE 0 END
           WHEN 1 THEN CASE WHEN w.had <= 0 THEN 0 WHEN m.amount >= w.had THEN w.worth ELSE CAST(round(1.0 * w.worth * m.amount / w.had) AS INTEGER) END
                       + coalesce(CAST(round(1.0 * w.price * (m.amount - min(m.amount, max(w.had, 0))) / w.of) AS INTEGER), 0)
           ELSE w.worth - CASE WHEN m.amount = w.had THEN w.worth
                               WHEN m.amount < w.had THEN CAST(round(1.0 * w.worth * m.amount / w.had) AS INTEGER)
                               WHEN w.of IS NULL THEN CASE WHEN w.had > 0 THEN w.worth ELSE 0 END
                               ELSE CASE WHEN w.had > 0 THEN w.worth ELSE 0 END
                                    + CAST(round(1.0 * w.price * (m.amount - max(w.had, 0)) / w.of) AS INTEGER) END
           END, w.price, w.of
    FROM walk w JOIN moves m ON m.store = w.store AND m.nth = w.nth + 1 WHERE w.step = 2
    UNION ALL
    SELECT store, nth, 2, day, place, amount, cents, cow, guess,
           CASE place WHEN 0 THEN had + amount WHEN 1 THEN had - amount ELSE amount END,
           CASE WHEN place = 0 AND had + amount = 0 THEN 0 ELSE worth + cents - cost END,
           -- Money that comes when nothing lies there to carry it is cost at once.
           CASE WHEN place = 0 AND had + amount = 0 THEN worth + cents ELSE cost END,
           CASE WHEN place <> 0 THEN price
                WHEN had >= 0 AND had + amount > 0 AND worth + cents - cost > 0 THEN worth + cents - cost
                WHEN amount > 0 THEN cents ELSE price END,
           CASE WHEN place <> 0 THEN of
                WHEN had >= 0 AND had + amount > 0 AND worth + cents - cost > 0 THEN had + amount
                WHEN amount > 0 THEN amount ELSE of END
    FROM walk WHERE step = 1)
SELECT store, nth, day, place, had, worth, cost, cow, guess FROM walk WHERE step = 2 AND nth > 0;

-- What left the stores in the days, for each cow alone and for all, as far as it is for milk.
CREATE TEMP TABLE left_stores AS
SELECT h.store, sign * ((2 * abs(sum) * CAST(s.milk_share AS INTEGER) + 100) / 200) AS cents
FROM (SELECT store, sum(cost) AS sum, CASE WHEN sum(cost) < 0 THEN -1 ELSE 1 END AS sign FROM heaps WHERE day BETWEEN :from AND :to GROUP BY store, cow, guess) h
JOIN stores s ON s.name = h.store;

-- What wears. A month is a twelfth of a year, cut into 377,580 parts, which every month's days go into; it wears for its years by the
-- calendar, or until it is gone. `asked` is for the days asked about, `whole` for all of its life.
CREATE TEMP TABLE things AS
WITH plain AS (
    SELECT CAST(number AS INTEGER) AS number, sort = 'cow' AS cow, bought, gone, CAST(milk_share AS INTEGER) AS part, CAST(life_years AS INTEGER) AS years,
           CAST(replace(price, '.', '') AS INTEGER) AS price, CAST(replace(salvage, '.', '') AS INTEGER) AS salvage,
           left_by, CAST(replace(coalesce(brought, ''), '.', '') AS INTEGER) AS brought
    FROM gear)
SELECT *, CASE WHEN substr(bought, 6) = '02-29' AND years % 4 <> 0 THEN date(bought, years || ' years', '-2 day')
               ELSE date(bought, years || ' years', '-1 day') END AS worn_out
FROM plain WHERE salvage <= price AND (gone = '' OR gone >= bought);

CREATE TEMP TABLE held AS
WITH RECURSIVE lived AS (
    SELECT number, 'whole' AS of, bought AS first, CASE WHEN gone <> '' AND gone < worn_out THEN gone ELSE worn_out END AS last FROM things
    UNION ALL
    SELECT number, 'asked', max(bought, :from), min(:to, CASE WHEN gone <> '' AND gone < worn_out THEN gone ELSE worn_out END) FROM things),
piece(number, of, first, last, ends) AS (
    SELECT number, of, first, min(last, date(first, 'start of month', '+1 month', '-1 day')), last FROM lived WHERE first <= last
    UNION ALL
    SELECT number, of, date(last, '+1 day'), min(ends, date(last, '+1 day', '+1 month', '-1 day')), ends FROM piece WHERE last < ends)
SELECT number, of, sum(377580 / CAST(julianday(date(first, 'start of month', '+1 month')) - julianday(date(first, 'start of month')) AS INTEGER)
                       * (CAST(julianday(last) - julianday(first) AS INTEGER) + 1)) AS parts
FROM piece GROUP BY number, of;

-- Straight-line wear, and what it is with interest. A machine has one or the other; a cow has her wear in both, and her risk of death
-- and interest beside hours. What was paid for it and what it brought is cash; what it still stood for when it left is lost, though
-- a death is charged to every year as a risk beside hours. Rates are in thousandths of a hundredth.
CREATE TEMP TABLE wears AS
WITH full AS (
    SELECT t.*, coalesce(a.parts, 0) AS parts, coalesce(w.parts, 0) AS life,
           coalesce((SELECT millionths FROM assumed WHERE name = 'interest %'), 0) / 1000 AS interest,
           coalesce((SELECT millionths FROM assumed WHERE name = 'death loss %'), 0) / 1000 AS deaths
    FROM things t LEFT JOIN held a ON a.number = t.number AND a.of = 'asked' LEFT JOIN held w ON w.number = t.number AND w.of = 'whole'),
lost AS (
    SELECT *, (2 * (price - salvage) * parts * part + 453096000 * years) / (2 * 453096000 * years) AS wear,
           CASE WHEN gone BETWEEN :from AND :to
                THEN (price - (2 * (price - salvage) * life + 4530960 * years) / (2 * 4530960 * years) - brought) * part ELSE 0 END AS stood
    FROM full)
SELECT CASE WHEN bought BETWEEN :from AND :to THEN (2 * price * part + 100) / 200 ELSE 0 END
       - CASE WHEN gone BETWEEN :from AND :to THEN (2 * brought * part + 100) / 200 ELSE 0 END AS cash,
       wear + CAST(round(stood / 100.0) AS INTEGER) AS wear,
       CASE WHEN cow THEN wear + CAST(round((price + salvage) / 2.0 * deaths / 100000.0 * parts * part / 453096000.0) AS INTEGER)
                               + CAST(round((price + salvage) / 2.0 * interest / 100000.0 * parts * part / 453096000.0) AS INTEGER)
            WHEN interest = 0 THEN wear
            ELSE CAST(round(((price - salvage) * (interest / 1e5) / (1 - pow(1 + interest / 1e5, -years)) + salvage * (interest / 1e5)) * parts * part / 453096000.0) AS INTEGER)
       END + CASE WHEN left_by = 'died' THEN 0 ELSE CAST(round(stood / 100.0) AS INTEGER) END AS hours
FROM lost;

-- Minutes as written, and the usual ones of every week, from Monday, in which nothing is written for that job and person.
CREATE TEMP TABLE usual AS
WITH RECURSIVE line AS (
    SELECT CAST(number AS INTEGER) AS number, job, person, wage, CAST(minutes AS INTEGER) AS minutes, max(since, :from) AS first,
           min(:to, :until, CASE until WHEN '' THEN '9999-12-31' ELSE until END) AS last
    FROM usual_weeks),
days(number, job, person, wage, minutes, day, last) AS (
    SELECT number, job, person, wage, minutes, first, last FROM line WHERE first <= last
    UNION ALL SELECT number, job, person, wage, minutes, date(day, '+1 day'), last FROM days WHERE day < last),
written AS (SELECT DISTINCT date(day, 'weekday 0', '-6 days') AS monday, job, person FROM minutes)
SELECT job, person, wage, (2 * sum(d.minutes) + 7) / 14 AS minutes
FROM days d WHERE NOT EXISTS (SELECT 1 FROM written w WHERE w.monday = date(d.day, 'weekday 0', '-6 days') AND w.job = d.job AND w.person = d.person)
GROUP BY number;

-- Hired with what the employer pays on top, unpaid at what that person's hour is worth, or an hour on this farm; once for each job,
-- person and wage.
CREATE TEMP TABLE work AS
WITH every AS (
    SELECT job, person, wage, CAST(minutes AS INTEGER) AS minutes FROM minutes WHERE day BETWEEN :from AND :to
    UNION ALL SELECT job, person, wage, minutes FROM usual WHERE minutes > 0),
jobs AS (SELECT job, person, wage, sum(minutes) AS minutes FROM every GROUP BY job, person, wage)
SELECT wage <> '' AS hired, minutes,
       CASE WHEN wage <> ''
            THEN (2 * minutes * CAST(replace(wage, '.', '') AS INTEGER) * (100000000 + coalesce((SELECT millionths FROM assumed WHERE name = 'payroll burden %'), 0)) + 6000000000) / (2 * 6000000000)
            ELSE (2 * minutes * coalesce((SELECT CAST(replace(w.worth, '.', '') AS INTEGER) FROM worths w WHERE w.person = jobs.person
                      ORDER BY w.since > :to, CASE WHEN w.since > :to THEN julianday(w.since) ELSE -julianday(w.since) END,
                               CASE WHEN w.since > :to THEN CAST(w.number AS INTEGER) ELSE -CAST(w.number AS INTEGER) END LIMIT 1),
                  (SELECT millionths FROM assumed WHERE name = 'worth of an hour') / 10000) + 60) / 120 END AS cents
FROM jobs;

-- What own land would bring: so much a month, a part of a month by its days.
CREATE TEMP TABLE land AS
SELECT CAST(round(coalesce((SELECT millionths FROM assumed WHERE name = 'own land a month'), 0) / 10000.0
       * (SELECT sum(377580 / long * days) FROM months) / 377580.0) AS INTEGER) AS cents;

-- Milk, in half-gallons: one is 4.3 lb, and a pound is 453592.37 mg. A day is the day the farm's own clock showed.
CREATE TEMP TABLE milk AS
SELECT (SELECT coalesce(sum(round(CASE WHEN p.milk LIKE '% lb' THEN CAST(p.milk AS REAL) * 453592.37 WHEN p.milk LIKE '% kg' THEN CAST(p.milk AS REAL) * 1000000 END)), 0)
        FROM pails p JOIN milkings m ON m.session = p.milking WHERE substr(m.started, 1, 10) BETWEEN :from AND :to) / (4.3 * 453592.37) AS produced,
       (SELECT coalesce(sum(2 * gallons + half_gallons + quarts / 2.0 + pints / 4.0), 0) FROM lots
        WHERE substr(filled, 1, 10) BETWEEN :from AND :to AND code NOT IN (SELECT lot FROM sources WHERE parent <> '')) AS fit,
       (SELECT coalesce(sum(2 * gallons + half_gallons + quarts / 2.0 + pints / 4.0), 0) FROM pickups WHERE substr(at, 1, 10) BETWEEN :from AND :to)
       - (SELECT coalesce(sum(2 * gallons + half_gallons + quarts / 2.0 + pints / 4.0), 0) FROM asides
          WHERE sort = 'returned' AND substr(at, 1, 10) BETWEEN :from AND :to) AS reached;

-- Electricity of the months no bill is paid in or covers: by the meter, laid evenly between its readings, and where nobody read it by
-- what the appliances draw. A month's milk is its part of the milk of the days asked about.
CREATE TEMP TABLE power AS
WITH lights AS (
    SELECT first, min(last, :until) AS last FROM months WHERE first <= :until),
dark AS (
    SELECT first, last, CAST(julianday(last) - julianday(first) AS INTEGER) + 1 AS days FROM lights l
    WHERE NOT EXISTS (SELECT 1 FROM plain t WHERE t.sort = 'power'
                      AND (t.paid BETWEEN date(l.first, 'start of month') AND date(l.first, 'start of month', '+1 month', '-1 day')
                           OR t.first <= t.last AND t.first <= date(l.first, 'start of month', '+1 month', '-1 day') AND t.last >= date(l.first, 'start of month')))),
read AS (SELECT day, CAST(number AS INTEGER) AS number, CAST(reading AS REAL) AS shows FROM meter_readings),
at AS (
    SELECT d.first, d.last, e.which,
           (SELECT r.day FROM read r WHERE r.day >= e.day ORDER BY r.day, r.number LIMIT 1) AS later_day,
           (SELECT r.shows FROM read r WHERE r.day >= e.day ORDER BY r.day, r.number LIMIT 1) AS later,
           (SELECT r.day FROM read r WHERE r.day <= e.day ORDER BY r.day DESC, r.number DESC LIMIT 1) AS earlier_day,
           (SELECT r.shows FROM read r WHERE r.day <= e.day ORDER BY r.day DESC, r.number DESC LIMIT 1) AS earlier, e.day
    FROM dark d JOIN (SELECT first, 'end' AS which, last AS day FROM dark UNION ALL SELECT first, 'start', date(first, '-1 day') FROM dark) e ON e.first = d.first),
stood AS (
    SELECT first, which, CASE WHEN later < earlier THEN NULL WHEN later_day = earlier_day THEN earlier
           ELSE earlier + (later - earlier) * (julianday(day) - julianday(earlier_day)) / (julianday(later_day) - julianday(earlier_day)) END AS shows
    FROM at),
metered AS (SELECT e.first, e.shows - s.shows AS drawn FROM stood e JOIN stood s ON s.first = e.first AND s.which = 'start' WHERE e.which = 'end' AND e.shows - s.shows >= 0),
warm AS (
    SELECT *, CASE WHEN starts_at LIKE '%C' THEN CAST(starts_at AS REAL) * 1.8 + 32 ELSE CAST(starts_at AS REAL) END AS starts,
           CASE WHEN ends_at LIKE '%C' THEN CAST(ends_at AS REAL) * 1.8 + 32 ELSE CAST(ends_at AS REAL) END AS ends_
    FROM appliances),
plates AS (
    SELECT d.first, sum(CASE a.sort
        WHEN 'motor' THEN CAST(a.kilowatts AS REAL) * CAST(a.minutes AS REAL) / 60
        WHEN 'heats water' THEN CAST(a.gallons AS REAL) * 8.34 * (a.ends_ - a.starts) / 3412 / (CASE a.efficiency WHEN '' THEN 100.0 ELSE CAST(a.efficiency AS REAL) END / 100)
        WHEN 'chills milk' THEN (SELECT fit FROM milk) * 4.3 * 0.45359237 * 3.93 * (a.starts - a.ends_) / 1.8 / 3600 / CASE a.times WHEN '' THEN 1.0 ELSE CAST(a.times AS REAL) END
                                / (julianday(:to) - julianday(:from) + 1) * d.days / max(1, julianday(min(d.last, CASE a.until WHEN '' THEN d.last ELSE a.until END)) - julianday(max(d.first, a.since)) + 1)
        ELSE CAST(a.kilowatt_hours AS REAL) / 365 END
        * (julianday(min(d.last, CASE a.until WHEN '' THEN d.last ELSE a.until END)) - julianday(max(d.first, a.since)) + 1)) AS drawn
    FROM dark d JOIN warm a ON max(d.first, a.since) <= min(d.last, CASE a.until WHEN '' THEN d.last ELSE a.until END) GROUP BY d.first)
SELECT d.first, CAST(round(coalesce(m.drawn, p.drawn) * (SELECT millionths FROM assumed WHERE name = 'price of a kWh') / 10000.0) AS INTEGER) AS cents
FROM dark d LEFT JOIN metered m ON m.first = d.first LEFT JOIN plates p ON p.first = d.first;

CREATE TEMP TABLE views AS
SELECT (SELECT coalesce(sum(cash), 0) FROM bills) + hired + (SELECT coalesce(sum(cash), 0) FROM wears) AS cash,
       (SELECT coalesce(sum(wear), 0) FROM bills) + hired + used + (SELECT coalesce(sum(wear), 0) FROM wears) AS wear,
       (SELECT coalesce(sum(hours), 0) FROM bills) + hired + used + (SELECT coalesce(sum(hours), 0) FROM wears) + (SELECT cents FROM land) + unpaid AS hours,
       unpaid
FROM (SELECT coalesce(sum(cents) FILTER (WHERE hired), 0) AS hired, coalesce(sum(cents) FILTER (WHERE NOT hired), 0) AS unpaid FROM work),
     (SELECT (SELECT coalesce(sum(cents), 0) FROM left_stores) + (SELECT coalesce(sum(cents), 0) FROM power) AS used);

-- What came in: by the books of the households when they reach back to the first month, otherwise what a half-gallon brings.
CREATE TEMP TABLE income AS
WITH named(account) AS (VALUES ('boarding'), ('milk at the gate'), ('adjustments'), ('write-offs')),
since AS (SELECT min(day) AS day FROM transfers WHERE from_account IN named)
SELECT CASE WHEN since.day <= :to AND julianday(since.day) - julianday(:from) <= 31
            THEN (SELECT coalesce(sum(CAST(replace(amount, '.', '') AS INTEGER) * ((from_account IN named) - (to_account IN named))), 0) FROM transfers WHERE day BETWEEN :from AND :to)
            ELSE CAST(round((SELECT reached FROM milk) * (SELECT millionths FROM assumed WHERE name = 'a half-gallon brings') / 1e4) AS INTEGER) END AS cents
FROM since;

SELECT 'cash', printf('%.2f', cash / 100.0) FROM views;
SELECT 'wear', printf('%.2f', wear / 100.0) FROM views;
SELECT 'hours', printf('%.2f', hours / 100.0) FROM views;
SELECT 'stores', printf('%.2f', coalesce(sum(cents), 0) / 100.0) FROM left_stores;
SELECT 'power', printf('%.2f', coalesce(sum(cents), 0) / 100.0) FROM power;
SELECT 'usual minutes', coalesce(sum(minutes), 0) FROM usual;
SELECT 'store of ' || store, had || ' worth ' || worth FROM heaps h WHERE nth = (SELECT max(nth) FROM heaps o WHERE o.store = h.store);
SELECT 'produced', printf('%.1f', produced) FROM milk;
SELECT 'fit', printf('%.1f', fit + 1e-9) FROM milk;
SELECT 'reached', printf('%.1f', reached + 1e-9) FROM milk;
SELECT 'each', printf('%.2f', hours / 100.0 / reached) FROM views, milk WHERE reached > 0;
SELECT 'hour', printf('%.2f', (cents - (hours - unpaid)) / 100.0 * 60 / (SELECT sum(minutes) FROM work WHERE NOT hired)) FROM views, income;
SELECT 'pails in another unit', count(*) FROM pails WHERE milk NOT LIKE '% lb' AND milk NOT LIKE '% kg';
