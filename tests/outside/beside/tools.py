"""What every question needs: where the columns are, how long something took, and SQLite's command line."""

import csv
import re
import subprocess
import sys
import time

JARS = ["gallons", "half_gallons", "quarts", "pints"]
FILES = ("people", "shares", "milkings", "pails", "breaks", "lots", "sources", "chill", "counts", "pickups", "asides",
         "samples", "results", "tickets", "transfers")
WHOLE_NUMBERS = {"number", *JARS, "sample"}
HEADS = {}

def heads(folder):
    """The columns of every file, told to the tools so that neither has to guess what a cell holds."""
    for file in sorted(folder.glob("*.csv")):
        with file.open(encoding="utf-8-sig", newline="") as lines:
            HEADS[file.stem] = (file, next(csv.reader(lines)))

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
