"""What the ledger answers, asked of three general tools as well: SQLite's own command line over the ledger file, DuckDB and pandas
over the exported farm folder. Each question is put as somebody who knows that tool would put it, no code is shared with the
program, and the three have to give the same answer to the last row before any time is told:

    python3 tests/outside/beside LEDGER FOLDER [--lot CODE_OR_NUMBER] [--day 2026-11-21] [--json FILE]

It needs duckdb and pandas beside Python itself, and sqlite3 on the path. The ledger is only read; what is written goes into a
folder that is thrown away (TMPDIR says where). A time is the median of five askings after one that warms up, or of the only one
where that takes two seconds or longer. Reading the CSV files is in the time of DuckDB and pandas, because a farm keeps records and
no warehouse; for pandas it is told apart as well. SQLite's import and DuckDB's take any folder as it is, and nothing in it is held
to the laws of the ledger; SQLite's export has numbers where the folder has names.
"""

import argparse
import json
import re
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
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
import pandas as pd

from by_duckdb import DUCK, by_duckdb
from by_pandas import READ, by_pandas, graph, reached, walked
from ledger import LEDGER
from tools import FILES, HEADS, Cli, cli, clocked, heads, plain
from whole import afresh, cli_copy, cli_export, cli_import, duckdb_export, duckdb_import, pandas_export, pandas_import

ROUNDS, LONG = 5, 2.0
TOOLS = ("sqlite3 (ledger)", "DuckDB (CSV)", "pandas (CSV)")

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
