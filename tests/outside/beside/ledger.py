"""The questions in SQL over the ledger, for SQLite's own command line."""

# The spread in SQL over the ledger: one question. A node is a lot, a milking, or a vessel between two clean breaks, so that such a
# stretch is gone through once, however many lots used it. Only a break strictly between two uses parts them. CROSS JOIN keeps the
# order of the tables, from the node to what stands next to it by the index.
CLEAN = "(SELECT b.at FROM breaks b WHERE b.vessel = {0}.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at {1} {2} ORDER BY b.at {3} LIMIT 1)"

def stretch(row, at):
    return (f"{row}.vessel, coalesce({CLEAN.format(row, '<', at, 'DESC')}, -9223372036854775807),"
            f" coalesce({CLEAN.format(row, '>', at, 'ASC')}, 9223372036854775807)")

def by_vessels(walk):
    return f"""
    UNION SELECT NULL, NULL, {stretch('l', 'l.filled')} FROM {walk} n CROSS JOIN lots l ON l.number = n.lot WHERE l.vessel IS NOT NULL
    UNION SELECT NULL, NULL, {stretch('p', 'm.started')} FROM {walk} n CROSS JOIN sources s ON s.lot = n.lot CROSS JOIN milkings m ON m.number = s.milking
        CROSS JOIN pails p ON p.milking = m.number WHERE p.went = 'can' AND p.vessel IS NOT NULL
    UNION SELECT l.number, NULL, NULL, NULL, NULL FROM {walk} n CROSS JOIN lots l ON l.vessel = n.vessel AND l.filled BETWEEN n.first AND n.last
    UNION SELECT s.lot, NULL, NULL, NULL, NULL FROM {walk} n CROSS JOIN milkings m ON m.started BETWEEN n.first AND n.last
        CROSS JOIN pails p ON p.milking = m.number CROSS JOIN sources s ON s.milking = m.number WHERE p.went = 'can' AND p.vessel = n.vessel"""

SPREAD = f"""WITH RECURSIVE
behind (lot, milking) AS (VALUES (:lot, NULL) UNION SELECT s.parent, s.milking FROM behind n CROSS JOIN sources s ON s.lot = n.lot),
ahead (lot, milking) AS (SELECT lot, milking FROM behind
    UNION SELECT s.lot, NULL FROM ahead n CROSS JOIN sources s ON s.parent = n.lot
    UNION SELECT s.lot, NULL FROM ahead n CROSS JOIN sources s ON s.milking = n.milking),
may_be_behind (lot, milking, vessel, first, last) AS (SELECT lot, milking, NULL, NULL, NULL FROM behind
    UNION SELECT s.parent, s.milking, NULL, NULL, NULL FROM may_be_behind n CROSS JOIN sources s ON s.lot = n.lot {by_vessels('may_be_behind')}),
may_be_ahead (lot, milking, vessel, first, last) AS (SELECT lot, milking, NULL, NULL, NULL FROM ahead UNION SELECT * FROM may_be_behind
    UNION SELECT s.lot, NULL, NULL, NULL, NULL FROM may_be_ahead n CROSS JOIN sources s ON s.parent = n.lot
    UNION SELECT s.lot, NULL, NULL, NULL, NULL FROM may_be_ahead n CROSS JOIN sources s ON s.milking = n.milking {by_vessels('may_be_ahead')})
SELECT n.lot, CASE WHEN n.lot IN (SELECT lot FROM ahead) THEN 'certain' ELSE 'possible' END, p.number, h.label, h.name, p.gallons, p.half_gallons, p.quarts, p.pints
FROM (SELECT DISTINCT lot FROM may_be_ahead WHERE lot IS NOT NULL) n LEFT JOIN pickups p ON p.lot = n.lot LEFT JOIN people h ON h.number = p.person;"""

LOT = """SELECT 'lot', l.number, l.filled, v.name, l.gallons, l.half_gallons, l.quarts, l.pints, l.made FROM lots l LEFT JOIN vessels v ON v.number = l.vessel WHERE l.number = :lot;
SELECT 'source', m.session, m.started, s.parent FROM sources s LEFT JOIN milkings m ON m.number = s.milking WHERE s.lot = :lot;
SELECT 'cow', m.session, c.name, p.milk_as FROM sources s JOIN milkings m ON m.number = s.milking JOIN pails p ON p.milking = m.number JOIN cows c ON c.number = p.cow WHERE s.lot = :lot AND p.went = 'can';
SELECT 'chill', number, at, temperature_as, thermometer FROM chill WHERE lot = :lot;
SELECT 'count', number, at, gallons, half_gallons, quarts, pints FROM counts WHERE lot = :lot;
SELECT 'handed', p.number, p.at, h.label, h.name, p.gallons, p.half_gallons, p.quarts, p.pints FROM pickups p LEFT JOIN people h ON h.number = p.person WHERE p.lot = :lot;
SELECT 'result', r.number, s.drawn, r.analyte, r.figure, r.unit, r.reported FROM samples s JOIN results r ON r.sample = s.number WHERE s.lot = :lot;"""

# Whatever came back is in the fridge again. Sums by size, for a quart is not half of a half-gallon jar.
FRIDGE = """WITH recent AS MATERIALIZED (SELECT number, gallons, half_gallons, quarts, pints FROM lots WHERE filled >= :fridge AND filled < :until),
moved AS (SELECT * FROM recent
    UNION ALL SELECT p.lot, -p.gallons, -p.half_gallons, -p.quarts, -p.pints FROM recent CROSS JOIN pickups p ON p.lot = recent.number WHERE p.at < :until
    UNION ALL SELECT a.lot, a.gallons * a.way, a.half_gallons * a.way, a.quarts * a.way, a.pints * a.way
    FROM (SELECT asides.*, CASE sort WHEN 'returned' THEN 1 ELSE -1 END AS way FROM recent CROSS JOIN asides ON asides.lot = recent.number WHERE at < :until) a)
SELECT number, sum(gallons), sum(half_gallons), sum(quarts), sum(pints) FROM moved GROUP BY number;"""

# A part of a share is written 1, 1/2 or 1 1/2; what it comes to is told in hundredths of a half-gallon, what was taken in pints.
PART = """CASE WHEN instr(part, '/') = 0 THEN CAST(part AS DOUBLE)
    ELSE CASE WHEN instr(part, ' ') > 0 THEN CAST(substr(part, 1, instr(part, ' ') - 1) AS DOUBLE) ELSE 0.0 END
         + CAST(substr(part, instr(part, ' ') + 1, instr(part, '/') - instr(part, ' ') - 1) AS DOUBLE) / CAST(substr(part, instr(part, '/') + 1) AS DOUBLE) END"""
PINTS = "8 * gallons + 4 * half_gallons + 2 * quarts + pints"
PACKING = f"""SELECT h.label, h.name, s.share, coalesce((SELECT sum({PINTS}) FROM pickups p WHERE p.person = h.number AND p.at >= :packing AND p.at < :until), 0)
FROM (SELECT person, sum(CAST(round(({PART}) * half_gallons * 100) AS INTEGER)) AS share FROM shares
      WHERE since <= :day AND (until IS NULL OR until >= :day) GROUP BY person) s JOIN people h ON h.number = s.person;"""

WAY = "((to_account = 'household') - (from_account = 'household'))"
STATEMENTS = f"""SELECT 'balance', h.label, h.name, coalesce(b.cents, 0) FROM people h LEFT JOIN
    (SELECT person, sum(amount * {WAY}) AS cents FROM transfers WHERE person IS NOT NULL AND day <= :day GROUP BY person) b ON b.person = h.number;
SELECT 'sort', h.label, t.sort, sum(amount * {WAY}) FROM transfers t JOIN people h ON h.number = t.person WHERE day BETWEEN :year AND :day GROUP BY h.label, t.sort;"""

# A calf lowers the cost whatever sign she was written with.
CREDIT = "CASE WHEN sort IN ('calf sold', 'calf kept') THEN -abs({0}) ELSE {0} END"
COSTS = f"""SELECT 'bill', sort, sum({CREDIT.format('amount')}), count(*) FROM tickets WHERE paid BETWEEN :year AND :day GROUP BY sort;
SELECT 'handed out', (SELECT coalesce(sum({PINTS}), 0) FROM pickups WHERE at >= :year_start AND at < :until)
    - (SELECT coalesce(sum({PINTS}), 0) FROM asides WHERE sort = 'returned' AND at >= :year_start AND at < :until);"""
LEDGER = {"spread": SPREAD, "lot": LOT, "fridge": FRIDGE, "packing": PACKING, "statements": STATEMENTS, "costs": COSTS}
