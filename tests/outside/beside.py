"""What the ledger answers, asked of three general tools as well: SQLite's own command line over the ledger file, DuckDB and pandas
over the exported farm folder. Each question is put as somebody who knows that tool would put it, no code is shared with the
program, and the three have to give the same answer to the last row before any time is told:

    python3 beside.py LEDGER FOLDER [--lot CODE_OR_NUMBER] [--day 2026-11-21] [--json FILE]

It needs duckdb and pandas beside Python itself, and sqlite3 on the path. The ledger is only read; what is written goes into a
folder that is thrown away (TMPDIR says where). A time is the median of five askings after one that warms up, or of the only one
where that takes two seconds or longer. Reading the CSV files is in the time of DuckDB and pandas, because a farm keeps records and
no warehouse; for pandas it is told apart as well. SQLite's import and DuckDB's take any folder as it is, and nothing in it is held
to the laws of the ledger; SQLite's export has numbers where the folder has names.
"""

import argparse
import csv
import hashlib
import json
import re
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from contextlib import closing
from datetime import date, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from zoneinfo import ZoneInfo

missing = [name for name in ("duckdb", "pandas") if not find_spec(name)]
if missing:
    sys.exit(f"Not installed in this Python: {' and '.join(missing)}.")
import duckdb
import numpy as np
import pandas as pd

ROUNDS, LONG = 5, 2.0
TOOLS = ("sqlite3 (ledger)", "DuckDB (CSV)", "pandas (CSV)")
JARS = ["gallons", "half_gallons", "quarts", "pints"]
FILES = ("people", "shares", "milkings", "pails", "breaks", "lots", "sources", "chill", "counts", "pickups", "asides",
         "samples", "results", "tickets", "transfers")

def asked():
    """What was asked for, once everything that it takes is there."""
    parser = argparse.ArgumentParser(description="Times and compares general tools on a ledger and its exported folder.")
    parser.add_argument("ledger", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--lot", help="a lot by its code or its number, instead of a usual one")
    parser.add_argument("--day", type=date.fromisoformat, help="the day that is today, instead of the last on which a lot was filled")
    parser.add_argument("--json", type=Path, help="where to write the figures for other programs")
    given = parser.parse_args()
    if not shutil.which("sqlite3"):
        sys.exit("SQLite's own command line, sqlite3, is not on the path.")
    version = subprocess.run(["sqlite3", "--version"], capture_output=True, text=True, check=True).stdout.split()[0]
    if tuple(int(part) for part in version.split(".")[:2]) < (3, 34):
        sys.exit(f"sqlite3 {version} is too old: a walk that goes on in several ways needs 3.34.")
    if not given.ledger.is_file():
        sys.exit(f"There is no ledger file {given.ledger}.")
    for name in FILES:
        if not (given.folder / f"{name}.csv").is_file():
            sys.exit(f"There is no {name}.csv in {given.folder}.")
    return given, version

# Every answer is a set of rows, and rows of different tools are the same when they say the same: nothing is nothing.
def plain(value):
    if value is None or value != value:
        return ""
    return str(int(value)) if isinstance(value, float) and value == int(value) else str(value)

def clocked(work):
    before = time.perf_counter()
    found = work()
    return time.perf_counter() - before, found

def cli(words, script):
    """What a whole process of the command line says."""
    done = subprocess.run(["sqlite3", "-bail", "-batch", *words], input=script.encode(), capture_output=True)
    if done.returncode:
        sys.exit(f"sqlite3 stopped: {done.stderr.decode()[-300:].strip()}.")
    return done.stdout.decode()

class Cli:
    """SQLite's command line with the ledger open for reading, kept open as the program keeps it, with the program's own pragmas."""

    START = (".mode ascii\nPRAGMA trusted_schema = 0;\nPRAGMA foreign_keys = 1;\nPRAGMA busy_timeout = 5000;\nPRAGMA cache_size = -16000;\n"
             "PRAGMA query_only = 1;\n")
    END = "that was all of it"

    def __init__(self, ledger):
        command = ["sqlite3", "-bail", "-batch", "-readonly", str(ledger)]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        self.ask(self.START + ".timer on\n")

    def ask(self, sql):
        """The time and the rows. `.timer` tells whole thousandths of a second in many versions, which is no time at all for a short
        question: below twenty of them the time is from sending the question to having its last row."""
        took, said = clocked(lambda: self.said(sql))
        timer = re.compile(r"Run Time: real ([0-9.]+) user [0-9.]+ sys [0-9.]+\n")
        by_timer, rows = sum(map(float, timer.findall(said))), timer.sub("", said).split("\x1e")
        return by_timer if by_timer >= 0.02 else took, [row.split("\x1f") for row in rows if row], {"timer_ms": by_timer * 1000}

    def said(self, sql):
        self.process.stdin.write(f"{sql}\n.print {self.END}\n".encode())
        self.process.stdin.flush()
        lines = []
        for line in self.process.stdout:
            if line.endswith(f"{self.END}\n".encode()):
                return b"".join(lines).decode()
            lines.append(line)
        sys.exit(f"sqlite3 stopped: {b''.join(lines).decode()[-300:].strip()}.")

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

# DuckDB asks the files themselves: each is a view, read anew by every question, of which it reads the columns it needs. Moments are
# text that begins with the farm's own day, and are made moments where they are compared. A code that came round again names a lot
# together with the day it was filled.
WHOLE_NUMBERS = {"number", *JARS, "sample"}
HEADS, TABLES = {}, {}

def heads(folder):
    """The columns of every file, told to the tools so that neither has to guess what a cell holds."""
    for file in sorted(folder.glob("*.csv")):
        with file.open(encoding="utf-8-sig", newline="") as lines:
            HEADS[file.stem] = (file, next(csv.reader(lines)))

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

# pandas reads first, only the columns needed, and asks afterwards.
def frames(**columns):
    def read(name, wanted):
        return pd.read_csv(HEADS[name][0], usecols=wanted.split(), keep_default_na=False,
                           dtype={column: "int64" if column in WHOLE_NUMBERS else str for column in wanted.split()})
    found = {name: read(name, wanted) for name, wanted in columns.items()}
    if "lots" in found:
        lots = found["lots"]
        again = lots.code.duplicated(keep=False)
        lots["lot"] = lots.code.where(~again, lots.code + " " + lots.filled.str[:10])
    return found

def moments(texts):
    return pd.to_datetime(texts, utc=True, format="ISO8601")

def seconds(texts):
    return ((moments(texts) - pd.Timestamp(0, tz="UTC")) // pd.Timedelta(seconds=1)).tolist()

def tuples(word, *columns):
    return list(zip([word] * len(columns[0]), *columns))

MILK = " ".join(JARS)
READ = {
    "spread": lambda: frames(lots="number code filled vessel", sources="lot milking parent", pails="milking vessel went", milkings="number session started",
                             breaks="vessel at washed sanitised", pickups=f"number lot person {MILK}", people="label name"),
    "lot": lambda: frames(lots=f"number code filled vessel made {MILK}", sources="lot milking parent", milkings="session started", pails="milking cow milk went",
                          chill="number lot at temperature thermometer", counts=f"number lot at {MILK}", pickups=f"number lot at person {MILK}",
                          people="label name", samples="number lot drawn", results="number sample analyte figure unit reported"),
    "fridge": lambda: frames(lots=f"number code filled {MILK}", pickups=f"at lot {MILK}", asides=f"at lot sort {MILK}"),
    "packing": lambda: frames(shares="person part half_gallons since until", people="label name", pickups=f"at person {MILK}"),
    "statements": lambda: frames(people="label name", transfers="day sort from_account to_account person amount"),
    "costs": lambda: frames(tickets="paid sort amount", pickups=f"at {MILK}", asides=f"at sort {MILK}"),
}

def graph(f):
    """The milk back and forth, and the ties of lots by a vessel between two clean breaks, as tables of two columns, with the same
    numbers for nodes that DuckDB has."""
    lots, milkings, far = f["lots"].set_index("lot").number, f["milkings"].set_index("session").number, 1_000_000_000
    giver = (-f["sources"].milking.map(milkings)).fillna(f["sources"].parent.map(lots)).astype("int64")
    forth = pd.DataFrame({"node": giver, "other": f["sources"].lot.map(lots)})
    poured = f["pails"].query("went == 'can' and vessel != ''")[["milking", "vessel"]].drop_duplicates().merge(f["milkings"], left_on="milking", right_on="session")
    poured = poured[(-poured.number).isin(giver)].assign(number=lambda own: own.number + far).rename(columns={"started": "used"})
    filled = f["lots"][f["lots"].vessel != ""].rename(columns={"filled": "used"})
    uses = pd.concat([own[["number", "vessel", "used"]] for own in (filled, poured)]).assign(used=lambda own: moments(own.used)).sort_values("used")
    clean = f["breaks"].query("washed == 'yes' and sanitised == 'yes'").assign(used=lambda own: moments(own["at"]), cleaned=lambda own: own.used)
    uses = pd.merge_asof(uses, clean[["vessel", "used", "cleaned"]].sort_values("used"), on="used", by="vessel", allow_exact_matches=False)
    uses["nth"] = (uses.cleaned > uses.groupby("vessel").used.shift()).groupby(uses.vessel).cumsum()
    ways = pd.DataFrame({"node": uses.number, "other": 2 * far + uses.groupby(["vessel", "nth"]).ngroup()})
    shared = forth.assign(node=far - forth.node)[lambda own: own.node.isin(uses.number)]
    ties = pd.concat([ways, shared])
    return turned(forth), forth, pd.concat([ties, turned(ties)])

def turned(way):
    return way.rename(columns={"node": "other", "other": "node"})

def stepped(seeds, *ways):
    """Every node reached, by going through the tables once for each step."""
    found = fresh = np.unique(seeds)
    while len(fresh):
        others = np.unique(np.concatenate([way.other[way.node.isin(fresh)] for way in ways]))
        fresh = others[~np.isin(others, found)]
        found = np.union1d(found, fresh)
    return found

def walked(seeds, *ways):
    """The same by lists of neighbors, which take longer to lay out and are for asking about every lot of a year."""
    found, work = set(seeds), list(seeds)
    while work:
        node = work.pop()
        fresh = {other for way in ways for other in way.get(node, ())} - found
        found |= fresh
        work += fresh
    return list(found)

def reached(walk, milk, lot):
    """The certain nodes, and all of them."""
    back, forth, ties = milk
    behind = walk([lot], back)
    ahead = walk(behind, forth)
    return ahead, walk([*ahead, *walk(behind, back, ties)], forth, ties)

def pandas_spread(f, at):
    certain, every = reached(stepped, graph(f), at["lot"])
    lots = f["lots"].loc[f["lots"].number.isin(every), ["number", "lot"]].rename(columns={"number": "own"})
    handed = lots.merge(f["pickups"], on="lot", how="left").merge(f["people"], left_on="person", right_on="label", how="left")
    tie = handed.own.isin(certain).map({True: "certain", False: "possible"})
    return list(zip(handed.own, tie, handed.number, handed.label, handed.name, *(handed[size] for size in JARS)))

def pandas_lot(f, at):
    own = f["lots"][f["lots"].number == at["lot"]]
    lot = own.lot.iloc[0]
    of = {name: table[table.lot == lot] for name, table in f.items() if "lot" in table and name != "lots"}
    source = of["sources"].merge(f["milkings"], left_on="milking", right_on="session", how="left").merge(f["lots"][["lot", "number"]], left_on="parent", right_on="lot", how="left")
    cow = of["sources"][["milking"]].merge(f["pails"][f["pails"].went == "can"], on="milking")
    handed = of["pickups"].merge(f["people"], left_on="person", right_on="label", how="left")
    result = of["samples"].merge(f["results"], left_on="number", right_on="sample", suffixes=("_drawn", ""))
    jars = lambda table: [table[size] for size in JARS]
    return (tuples("lot", own.number, seconds(own.filled), own.vessel, *jars(own), own.made) + tuples("source", source.session, seconds(source.started), source.number)
            + tuples("cow", cow.milking, cow.cow, cow.milk) + tuples("chill", of["chill"].number, seconds(of["chill"]["at"]), of["chill"].temperature, of["chill"].thermometer)
            + tuples("count", of["counts"].number, seconds(of["counts"]["at"]), *jars(of["counts"])) + tuples("handed", handed.number, seconds(handed["at"]), handed.label, handed.name, *jars(handed))
            + tuples("result", result.number, seconds(result.drawn), result.analyte, result.figure, result.unit, result.reported))

def pandas_fridge(f, at):
    recent = f["lots"][f["lots"].filled.str[:10].between(at["fridge"], at["day"])].set_index("lot")
    left = recent[JARS]
    for went in (f["pickups"].assign(sort=""), f["asides"]):
        went = went[went.lot.isin(recent.index) & (went["at"].str[:10] <= at["day"])]
        left = left.sub(went[JARS].mul(went["sort"].eq("returned").map({True: -1, False: 1}), axis=0).groupby(went.lot).sum(), fill_value=0)
    left = left.loc[recent.index]
    return list(zip(recent.number, *(left[size].astype("int64") for size in JARS)))

def part_of(text):
    return sum(float(word.split("/")[0]) / float(word.split("/")[1]) if "/" in word else float(word) for word in text.split())

def in_pints(table):
    return 8 * table.gallons + 4 * table.half_gallons + 2 * table.quarts + table.pints

def pandas_packing(f, at):
    shares = f["shares"][(f["shares"].since <= at["day"]) & ((f["shares"].until == "") | (f["shares"].until >= at["day"]))]
    # Half a hundredth goes up, as a round of SQL has it and a round of numpy has not.
    share = (shares.part.map(part_of) * shares.half_gallons * 100 + 0.5).astype("int64").groupby(shares.person).sum().rename("share")
    recent = f["pickups"][f["pickups"]["at"].str[:10].between(at["packing"], at["day"])]
    taken = in_pints(recent).groupby(recent.person).sum().rename("taken")
    all_of = f["people"].merge(share, left_on="label", right_index=True).merge(taken, left_on="label", right_index=True, how="left")
    return list(zip(all_of.label, all_of.name, all_of.share, all_of.taken.fillna(0)))

def pandas_statements(f, at):
    books = f["transfers"][f["transfers"].person != ""]
    amount = books.amount.str.replace(".", "", regex=False).astype("int64") * (books.to_account.eq("household").astype("int64") - books.from_account.eq("household"))
    books = books.assign(cents=amount)
    balance = books[books.day <= at["day"]].groupby("person").cents.sum().reindex(f["people"].label, fill_value=0)
    sorts = books[books.day.between(at["year"], at["day"])].groupby(["person", "sort"], as_index=False).cents.sum()
    return tuples("balance", f["people"].label, f["people"].name, balance) + tuples("sort", sorts.person, sorts["sort"], sorts.cents)

def pandas_costs(f, at):
    bills = f["tickets"][f["tickets"].paid.between(at["year"], at["day"])]
    paid = bills.amount.str.replace(".", "", regex=False).astype("int64")
    paid = paid.where(~bills["sort"].isin(["calf sold", "calf kept"]), -paid.abs()).groupby(bills["sort"]).agg(["sum", "count"])
    pints = [in_pints(table[table["at"].str[:10].between(at["year"], at["day"])]).sum() for table in (f["pickups"], f["asides"][f["asides"]["sort"] == "returned"])]
    return tuples("bill", paid.index, paid["sum"], paid["count"]) + [("handed out", pints[0] - pints[1])]

def by_pandas(question, at):
    reading, read = clocked(READ[question])
    asking, found = clocked(lambda: globals()[f"pandas_{question}"](read, at))
    return reading + asking, found, {"reading_ms": reading * 1000}

# All of the records in and out. What came in, or went out, is read back and compared by the entry marks of every file. Each way is
# given a folder with nothing in it; what DuckDB and pandas took in is what they write.
def digest(marks_of):
    def told(name):
        mark = "entry" if "entry" in HEADS[name][1] else HEADS[name][1][0]
        marks = sorted(plain(own) for own in marks_of(name, mark))
        return name, len(marks), hashlib.sha256("\n".join(marks).encode()).hexdigest()
    return [told(name) for name in HEADS]

def in_tables(took, connection):
    with closing(connection) as db:
        return took, digest(lambda name, mark: (row[0] for row in db.execute(f'SELECT "{mark}" FROM "{name}"').fetchall())), {}

def in_files(took, folder):
    def marks(name, mark):
        with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
            return [row[mark] for row in csv.DictReader(lines)]
    return took, digest(marks), {}

def in_duckdb(file, statements):
    with duckdb.connect(str(file)) as db:
        for statement in statements:
            db.execute(statement)

def cli_import(_, into):
    lines = "".join(f'.import --csv "{file}" {name}\n' for name, (file, _) in HEADS.items())
    took, _ = clocked(lambda: cli([str(into / "in.sqlite")], f"BEGIN;\n{lines}COMMIT;\n"))
    return in_tables(took, sqlite3.connect(into / "in.sqlite"))

def duckdb_import(_, into):
    took, _ = clocked(lambda: in_duckdb(into / "in.duckdb", [f"CREATE TABLE {name} AS FROM {of_csv(name)}" for name in HEADS]))
    shutil.copy(into / "in.duckdb", into.parent / "in.duckdb")
    return in_tables(took, duckdb.connect(str(into / "in.duckdb")))

def pandas_import(_, into):
    took, found = clocked(lambda: {name: pd.read_csv(file, dtype=str, keep_default_na=False) for name, (file, _) in HEADS.items()})
    TABLES.update(found)
    return took, digest(lambda name, mark: found[name][mark]), {}

def cli_export(ledger, into):
    lines = "".join(f'.once "{into / name}.csv"\nSELECT * FROM {name};\n' for name in HEADS)
    return in_files(clocked(lambda: cli(["-readonly", str(ledger)], f".mode csv\n.headers on\n{lines}"))[0], into)

def duckdb_export(_, into):
    copies = [f"COPY {name} TO '{into / name}.csv' (HEADER, DELIMITER ',')" for name in HEADS]
    return in_files(clocked(lambda: in_duckdb(into.parent / "in.duckdb", copies))[0], into)

def pandas_export(_, into):
    return in_files(clocked(lambda: [table.to_csv(into / f"{name}.csv", index=False) for name, table in TABLES.items()])[0], into)

def cli_copy(ledger, into):
    copied, _ = clocked(lambda: cli(["-readonly", str(ledger)], f'.backup "{into / "copy.sqlite"}"\n'))
    checked, said = clocked(lambda: cli(["-readonly", str(into / "copy.sqlite")], "PRAGMA quick_check;\n"))
    if said.strip() != "ok":
        sys.exit(f"The copy is not whole: {said.strip()[:300]}.")
    return copied + checked, [("copy", (into / "copy.sqlite").stat().st_size)], {"copying_ms": copied * 1000, "checking_ms": checked * 1000}

def afresh(way, ledger, scratch):
    """One of the ways, in a folder that is gone when it has been looked at."""
    with tempfile.TemporaryDirectory(dir=scratch) as into:
        return way(ledger, Path(into))

def rounds(run):
    """The median of five after one that warms up, or the only one where it is long; with the answer of the first."""
    first = run()
    runs = [run() for _ in range(ROUNDS)] if first[0] < LONG else [first]
    more = {key: statistics.median(own[2][key] for own in runs) for key in first[2]}
    return {"ms": statistics.median(own[0] for own in runs) * 1000, "rounds": len(runs), **more}, first[1]

def agreed(question, runs):
    """The times of the tools and the rows that all of them give; stops where they do not."""
    answers = {tool: sorted(tuple(plain(value) for value in row) for row in answer) for tool, (_, answer) in runs.items()}
    (first, rows), *others = answers.items()
    for tool, own in others:
        if own != rows:
            odd = sorted(set(own) ^ set(rows)) or ["a row that stands there more than once"]
            sys.exit(f"{question}: {first} gives {len(rows)} rows and {tool} gives {len(own)}, and they disagree: for instance, {odd[0]} is in one alone.")
    return {tool: figure for tool, (figure, _) in runs.items()}, rows

def size(question, rows):
    column = lambda place: sum(int(row[place]) for row in rows)
    if question == "spread":
        tie = {row[0]: row[1] for row in rows}
        certain, outs, who = list(tie.values()).count("certain"), {row[2] for row in rows} - {""}, {row[3] for row in rows} - {""}
        return f"lots: {len(tie)} ({certain} certain, {len(tie) - certain} possible), hand-outs: {len(outs)}, households: {len(who)}"
    if question == "fridge":
        return f"lots: {len(rows)}, half-gallons left: {column(2)}"
    if question == "packing":
        return f"households: {len(rows)}, pints taken: {column(3)}"
    if question == "copy":
        return f"{column(1) / 1e6:.0f} MB, whole"
    if question in ("import", "export"):
        return f"files: {len(rows)}, records: {column(1)}"
    return ", ".join(f"{sort}: {count}" for sort, count in Counter(row[0] for row in rows).items())

def shown(figure):
    if figure is None:
        return "–"
    told = lambda ms: f"{ms:,.0f}" if ms >= 100 else f"{ms:.1f}" if ms >= 1 else f"{ms:.2f}"
    return told(figure["ms"]) + (f" (reading {told(figure['reading_ms'])})" if "reading_ms" in figure else "") + (" once" if figure["rounds"] == 1 else "")

def lots_to_ask(given, last, year):
    """A usual lot of the year, which is the one in the middle by how far it spreads, and the one that spreads widest."""
    f = READ["spread"]()
    lots = f["lots"].sort_values("number")
    own, milk = lots[lots.filled.str[:10].between(year, last)], []
    for way in graph(f):
        milk.append(defaultdict(list))
        for node, other in zip(way.node.tolist(), way.other.tolist()):
            milk[-1][node].append(other)
    numbers = set(lots.number)
    sizes = sorted((len(numbers.intersection(reached(walked, milk, number)[1])), number, lot) for number, lot in zip(own.number.tolist(), own.lot))
    if not sizes:
        sys.exit(f"No lot was filled from {year} to {last}.")
    chosen = {"usual": sizes[len(sizes) // 2][1:], "widest": sizes[-1][1:]}
    if given:
        match = lots[(lots.lot == given) | (lots.code == given) | (lots.number.astype(str) == given)]
        if match.empty:
            sys.exit(f"There is no lot {given} in lots.csv.")
        chosen = {"asked": (match.number.iloc[-1], match.lot.iloc[-1]), "widest": chosen["widest"]}
    return {which: (int(number), name) for which, (number, name) in chosen.items()}

def main():
    given, version = asked()
    heads(given.folder)
    try:
        with closing(sqlite3.connect(f"{given.ledger.resolve().as_uri()}?mode=ro", uri=True)) as db:
            zone, newest = db.execute("SELECT zone, (SELECT max(filled) FROM lots) FROM farm ORDER BY number DESC LIMIT 1").fetchone()
    except (sqlite3.Error, TypeError) as error:
        sys.exit(f"{given.ledger} cannot be read as the ledger of a farm: {error}.")
    zone = ZoneInfo(zone)
    day = given.day or datetime.fromtimestamp(newest, zone).date()
    # Twelve months end today. The last day of a February may have none a year before.
    year = (day.replace(year=day.year - 1) if (day.month, day.day) != (2, 29) else day.replace(year=day.year - 1, day=28)) + timedelta(days=1)
    days = {"day": day, "year": year, "fridge": day - timedelta(days=13), "packing": day - timedelta(days=27)}
    said = {key: own.isoformat() for key, own in days.items()}
    # The ledger keeps moments as seconds, so that a day is asked for from its first second on the farm's clock to the next day's.
    begins = lambda of: int(datetime(of.year, of.month, of.day, tzinfo=zone).timestamp())
    numbers = {"until": begins(day + timedelta(days=1)), "year_start": begins(year), "fridge": begins(days["fridge"]), "packing": begins(days["packing"])}
    lots = lots_to_ask(given.lot, said["day"], said["year"])
    session, table = Cli(given.ledger), {}

    def put(name, question, lot):
        texts = {**{key: f"'{text}'" for key, text in said.items()}, "lot": lot, "own": "getvariable('own')"}
        filled, by_csv = (re.sub(r":(\w+)", lambda word: str(bound[word[1]]), sql) for sql, bound in ((LEDGER[question], {**texts, **numbers}), (DUCK[question], texts)))
        ways = (lambda: session.ask(filled), lambda: by_duckdb(by_csv), lambda: by_pandas(question, {**said, "lot": lot}))
        figures, rows = agreed(name, {tool: rounds(way) for tool, way in zip(TOOLS, ways)})
        table[name] = (figures, size(question, rows))
        return filled

    for which, (lot, name) in lots.items():
        filled = put(f"spread, {which} lot {name}", "spread", lot)
        whole = lambda: (clocked(lambda: cli(["-readonly", str(given.ledger)], Cli.START + filled))[0], [], {})
        table[f"spread, {which} lot, whole process"] = ({TOOLS[0]: rounds(whole)[0]}, "start, open, ask, end")
    for question in ("lot", "fridge", "packing", "statements", "costs"):
        put(question, question, next(iter(lots.values()))[0])
    with tempfile.TemporaryDirectory() as scratch:
        for name, ways in (("import", (cli_import, duckdb_import, pandas_import)), ("export", (cli_export, duckdb_export, pandas_export)), ("copy", (cli_copy,))):
            figures, rows = agreed(name, {tool: rounds(lambda: afresh(way, given.ledger, scratch)) for tool, way in zip(TOOLS, ways)})
            table[name] = (figures, size(name, rows))
    versions = {"sqlite3": version, "DuckDB": duckdb.__version__, "pandas": pd.__version__, "Python": sys.version.split()[0]}
    print(f"{', '.join(f'{tool} {own}' for tool, own in versions.items())}. Today is {day}. Milliseconds; all tools gave the same answers.\n")
    print(f"| question | {' | '.join(TOOLS)} | answer |\n|---|---:|---:|---:|---|")
    for name, (figures, answer) in table.items():
        print(f"| {name} | {' | '.join(shown(figures.get(tool)) for tool in TOOLS)} | {answer} |")
    if given.json:
        told = [{"question": name, "answer": answer, "figures": figures} for name, (figures, answer) in table.items()]
        given.json.write_text(json.dumps({"versions": versions, "day": said["day"], "lots": lots, "questions": told}, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")

if __name__ == "__main__":
    main()
