"""The rows of an entry, an ice check and its line in the journal, written straight through the sqlite3 library: two thousand of
them, each in a transaction of its own and on the disk before the next begins, with the settings the program opens its ledger with.

    python3 tests/outside/durable.py LEDGER

It writes into a copy beside the ledger and takes the copy away. `cargo bench --bench years` times the same entries kept by the
program, which also looks up what a record names, keeps a form sent twice once, and seals each line of the journal to the last.
"""

import os
import shutil
import sqlite3
import sys
import time
import uuid

ENTRIES = 2000
# As server/store/mod.rs has them.
SETTINGS = ["journal_mode = wal", "synchronous = full", "foreign_keys = on", "trusted_schema = off", "cache_size = -16000"]


def main(ledger):
    copy = ledger + ".durable"
    shutil.copyfile(ledger, copy)
    db = sqlite3.connect(copy, isolation_level=None)
    for setting in SETTINGS:
        db.execute(f"PRAGMA {setting}")
    check = list(db.execute("SELECT * FROM ice_checks ORDER BY number DESC LIMIT 1").fetchone())
    line = list(db.execute("SELECT * FROM journal WHERE kind = 'ice_checks' ORDER BY seq DESC LIMIT 1").fetchone())
    line[0] = db.execute("SELECT max(seq) FROM journal").fetchone()[0]
    into_checks = f"INSERT INTO ice_checks VALUES ({', '.join('?' * len(check))})"
    into_journal = f"INSERT INTO journal VALUES ({', '.join('?' * len(line))})"
    started = time.perf_counter()
    for _ in range(ENTRIES):
        check[0], check[1], line[0], line[6] = check[0] + 1, str(uuid.uuid4()), line[0] + 1, check[0] + 1
        db.execute("BEGIN IMMEDIATE")
        db.execute(into_checks, check)
        db.execute(into_journal, line)
        db.execute("COMMIT")
    taken = time.perf_counter() - started
    db.close()
    for more in ("", "-wal", "-shm"):
        try:
            os.remove(copy + more)
        except FileNotFoundError:
            pass
    print(f"sqlite {sqlite3.sqlite_version}: {ENTRIES} entries in {taken:.2f} s, {taken / ENTRIES * 1000:.3f} ms each, {ENTRIES / taken:.0f} a second")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("Name the ledger: python3 tests/outside/durable.py LEDGER")
    main(sys.argv[1])
