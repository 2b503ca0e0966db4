"""The same questions for DuckDB, over the files of the farm folder."""

import duckdb

from ledger import CREDIT, PART, PINTS
from tools import FILES, HEADS, JARS, WHOLE_NUMBERS, clocked

# DuckDB asks the files themselves: each is a view, read anew by every question, of which it reads the columns it needs. Moments are
# text that begins with the farm's own day, and are made moments where they are compared. A code that came round again names a lot
# together with the day it was filled.
def of_csv(name):
    file, columns = HEADS[name]
    types = ", ".join(f"'{column}': '{'INTEGER' if column in WHOLE_NUMBERS and name in FILES else 'VARCHAR'}'" for column in columns)
    path = str(file).replace("'", "''")
    return f"read_csv('{path}', header = true, delim = ',', quote = '\"', escape = '\"', auto_detect = false, columns = {{{types}}})"

NAMED = "CASE WHEN count(*) OVER (PARTITION BY code) > 1 THEN code || ' ' || substr(filled, 1, 10) ELSE code END AS lot"
EPOCH = "CAST(epoch(CAST({} AS TIMESTAMPTZ)) AS BIGINT)"
CENTS = "CAST(replace(amount, '.', '') AS INTEGER)"
DUCK_WAY = "(CAST(to_account = 'household' AS INTEGER) - CAST(from_account = 'household' AS INTEGER))"
DUCK = {
    # Nodes are numbers: of lots as they are, of milkings below nothing; of milkings as what went through a vessel, and of stretches of a
    # vessel between two clean breaks, far above. A pour has no use of a vessel unless something was filled of it.
    "spread": f"""CREATE TEMP TABLE named AS SELECT number, {NAMED}, vessel, CAST(filled AS TIMESTAMPTZ) AS used FROM lots;
CREATE TEMP TABLE milk AS SELECT coalesce(-m.number, p.number) AS giver, l.number AS taker FROM sources s JOIN named l ON l.lot = s.lot
    LEFT JOIN milkings m ON m.session = s.milking LEFT JOIN named p ON p.lot = s.parent;
CREATE TEMP TABLE uses AS SELECT CAST(number AS BIGINT) AS node, vessel, used FROM named WHERE vessel IS NOT NULL
    UNION SELECT 1000000000 + m.number, p.vessel, CAST(m.started AS TIMESTAMPTZ) FROM pails p JOIN milkings m ON m.session = p.milking
    WHERE p.went = 'can' AND p.vessel IS NOT NULL AND -m.number IN (SELECT giver FROM milk);
CREATE TEMP TABLE ways AS
    WITH clean AS (SELECT vessel, CAST("at" AS TIMESTAMPTZ) AS cleaned FROM breaks WHERE washed = 'yes' AND sanitised = 'yes'),
    cut AS (SELECT u.*, CASE WHEN c.cleaned > lag(u.used) OVER (PARTITION BY u.vessel ORDER BY u.used) THEN 1 ELSE 0 END AS parted
            FROM uses u ASOF LEFT JOIN clean c ON c.vessel = u.vessel AND c.cleaned < u.used),
    pots AS (SELECT node, vessel, sum(parted) OVER (PARTITION BY vessel ORDER BY used) AS nth FROM cut)
    SELECT node, 2000000000 + dense_rank() OVER (ORDER BY vessel, nth) AS other FROM pots
    UNION ALL SELECT taker, 1000000000 - giver FROM milk WHERE 1000000000 - giver IN (SELECT node FROM uses);
CREATE TEMP TABLE ties AS FROM ways UNION ALL SELECT other, node FROM ways;
CREATE TEMP TABLE back AS SELECT taker AS node, giver AS other FROM milk UNION ALL FROM ties;
CREATE TEMP TABLE forth AS SELECT giver AS node, taker AS other FROM milk UNION ALL FROM ties;
WITH RECURSIVE
behind (node) AS (SELECT CAST(:lot AS BIGINT) UNION SELECT giver FROM behind JOIN milk ON taker = node),
ahead (node) AS (SELECT node FROM behind UNION SELECT taker FROM ahead JOIN milk ON giver = node),
may_be_behind (node) AS (SELECT node FROM behind UNION SELECT other FROM may_be_behind JOIN back USING (node)),
may_be_ahead (node) AS (SELECT node FROM (FROM ahead UNION FROM may_be_behind) UNION SELECT other FROM may_be_ahead JOIN forth USING (node))
SELECT l.number, CASE WHEN l.number IN (FROM ahead) THEN 'certain' ELSE 'possible' END, p.number, h.label, h.name, p.gallons, p.half_gallons, p.quarts, p.pints
FROM may_be_ahead n JOIN named l ON l.number = n.node LEFT JOIN pickups p ON p.lot = l.lot LEFT JOIN people h ON h.label = p.person""",
    "lot": f"""CREATE TEMP TABLE named AS SELECT *, {NAMED} FROM lots;
SET VARIABLE own = (SELECT lot FROM named WHERE number = :lot);
SELECT 'lot', number, {EPOCH.format('filled')}, vessel, gallons, half_gallons, quarts, pints, made FROM named WHERE number = :lot;
SELECT 'source', m.session, {EPOCH.format('m.started')}, l.number FROM sources s LEFT JOIN milkings m ON m.session = s.milking LEFT JOIN named l ON l.lot = s.parent WHERE s.lot = :own;
SELECT 'cow', s.milking, p.cow, p.milk FROM sources s JOIN pails p ON p.milking = s.milking WHERE s.lot = :own AND p.went = 'can';
SELECT 'chill', number, {EPOCH.format('"at"')}, temperature, thermometer FROM chill WHERE lot = :own;
SELECT 'count', number, {EPOCH.format('"at"')}, gallons, half_gallons, quarts, pints FROM counts WHERE lot = :own;
SELECT 'handed', p.number, {EPOCH.format('"at"')}, h.label, h.name, gallons, half_gallons, quarts, pints FROM pickups p LEFT JOIN people h ON h.label = p.person WHERE p.lot = :own;
SELECT 'result', r.number, {EPOCH.format('s.drawn')}, r.analyte, r.figure, r.unit, r.reported FROM samples s JOIN results r ON r.sample = s.number WHERE s.lot = :own""",
    "fridge": f"""WITH recent AS MATERIALIZED (SELECT * FROM (SELECT number, {NAMED}, filled, {', '.join(JARS)} FROM lots) WHERE substr(filled, 1, 10) BETWEEN :fridge AND :day),
moved AS (SELECT lot, gallons, half_gallons, quarts, pints, 1 AS way FROM recent
    UNION ALL SELECT lot, gallons, half_gallons, quarts, pints, -1 FROM pickups WHERE substr("at", 1, 10) <= :day
    UNION ALL SELECT lot, gallons, half_gallons, quarts, pints, CASE sort WHEN 'returned' THEN 1 ELSE -1 END FROM asides WHERE substr("at", 1, 10) <= :day)
SELECT r.number, sum(way * m.gallons), sum(way * m.half_gallons), sum(way * m.quarts), sum(way * m.pints) FROM recent r JOIN moved m USING (lot) GROUP BY r.number""",
    "packing": f"""WITH taken AS (SELECT person, sum({PINTS}) AS pints FROM pickups WHERE substr("at", 1, 10) BETWEEN :packing AND :day GROUP BY person)
SELECT h.label, h.name, s.share, coalesce(t.pints, 0) FROM (SELECT person, sum(CAST(round(({PART}) * half_gallons * 100) AS INTEGER)) AS share
    FROM shares WHERE since <= :day AND (until IS NULL OR until >= :day) GROUP BY person) s JOIN people h ON h.label = s.person LEFT JOIN taken t ON t.person = s.person""",
    "statements": f"""SELECT 'balance', h.label, h.name, coalesce(sum({CENTS} * {DUCK_WAY}), 0) FROM people h LEFT JOIN transfers t ON t.person = h.label AND t.day <= :day GROUP BY h.label, h.name;
SELECT 'sort', person, sort, sum({CENTS} * {DUCK_WAY}) FROM transfers WHERE person IS NOT NULL AND day BETWEEN :year AND :day GROUP BY person, sort""",
    "costs": f"""SELECT 'bill', sort, sum({CREDIT.format(CENTS)}), count(*) FROM tickets WHERE paid BETWEEN :year AND :day GROUP BY sort;
SELECT 'handed out', (SELECT coalesce(sum({PINTS}), 0) FROM pickups WHERE substr("at", 1, 10) BETWEEN :year AND :day)
    - (SELECT coalesce(sum({PINTS}), 0) FROM asides WHERE sort = 'returned' AND substr("at", 1, 10) BETWEEN :year AND :day)""",
}

def by_duckdb(sql):
    with duckdb.connect() as db:
        for name in FILES:
            db.execute(f"CREATE VIEW {name} AS FROM {of_csv(name)}")
        took, rows = clocked(lambda: [db.execute(one).fetchall() for one in sql.split(";\n")])
    return took, [row for one, answer in zip(sql.split(";\n"), rows) if one.startswith(("SELECT", "WITH")) for row in answer], {}
