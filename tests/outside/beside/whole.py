"""Everything in, everything out, and a copy, by each tool."""

import csv
import hashlib
import shutil
import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

import duckdb
import pandas as pd

from by_duckdb import of_csv
from tools import HEADS, cli, clocked, plain

TABLES = {}

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
