"""The program as it runs: how long it takes to its first page, what memory it holds at rest and under load, how heavy its pages
are, and how many farms one machine serves.

    python3 tests/outside/running.py PROGRAM FARM-FOLDER [FARMS] [LEDGER]

FARM-FOLDER is imported once; its ledger is copied for each of FARMS (1 unless said) and each copy is served by a program of its own, as
docs/running.md has it. With LEDGER that ledger is served instead, once. Only Python's standard library is used; memory is read from /proc,
so it runs on Linux only.
"""

import gzip
import http.client
import os
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import time
import urllib.parse

FIRST_PORT = 17720
PASSWORD = "rinse and measure"
PAGES = ["/", "/jars", "/pickup", "/pickup/pack", "/herd", "/milkings/new", "/chill/new", "/calendar", "/people", "/stop"]
SECONDS = 10


class Farm:
    """One program over one ledger."""

    def __init__(self, program, ledger, port):
        self.port = port
        started = time.perf_counter()
        self.process = subprocess.Popen([program, "--ledger", ledger, "serve", "--listen", f"127.0.0.1:{port}"], stdout=subprocess.DEVNULL)
        while True:
            try:
                status, _, _ = self.ask("/signin")
                break
            except ConnectionRefusedError:
                time.sleep(0.001)
        self.first_page = time.perf_counter() - started
        assert status == 200, status
        self.cookie = ""

    def ask(self, path, cookie="", form=None, packed=False):
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        headers = {"Cookie": cookie} if cookie else {}
        if packed:
            headers["Accept-Encoding"] = "gzip"
        body = None
        if form is not None:
            body = urllib.parse.urlencode(form)
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        link.request("POST" if form is not None else "GET", path, body, headers)
        answer = link.getresponse()
        bytes_ = answer.read()
        link.close()
        return answer.status, {name.lower(): value for name, value in answer.getheaders()}, bytes_

    def sign_in(self):
        _, headers, page = self.ask("/signin")
        door = headers["set-cookie"].split(";")[0]
        seal = re.search(rb'name="door" value="([^"]*)"', page).group(1).decode()
        _, headers, _ = self.ask("/signin", door, {"door": seal, "name": "Bench", "password": PASSWORD, "back": "/"})
        self.cookie = headers["set-cookie"].split(";")[0]
        assert self.ask("/", self.cookie)[0] == 200, "nobody came in"

    def memory(self):
        """Memory of its own in MB: what would come free if it ended, and what it holds of shared pages in proportion."""
        text = open(f"/proc/{self.process.pid}/smaps_rollup").read()
        return int(re.search(r"^Pss:\s+(\d+)", text, re.M).group(1)) / 1024

    def end(self):
        self.process.terminate()
        self.process.wait()


def load(farms, clients):
    """So many people at once, each at one farm after another, for some seconds: times in ms."""
    times, until, lock = [], time.perf_counter() + SECONDS, threading.Lock()

    def person(nth):
        own = []
        while time.perf_counter() < until:
            farm = farms[(nth + len(own)) % len(farms)]
            started = time.perf_counter()
            status, _, _ = farm.ask(PAGES[(nth + len(own)) % len(PAGES)], farm.cookie)
            assert status == 200, status
            own.append((time.perf_counter() - started) * 1000)
        with lock:
            times.extend(own)

    people = [threading.Thread(target=person, args=(nth,)) for nth in range(clients)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    times.sort()
    return times


def main(program, folder, many, ledger):
    place, farms = tempfile.mkdtemp(), []
    try:
        made = os.path.join(place, "0.ledger")
        if ledger:
            shutil.copyfile(ledger, made)
        else:
            subprocess.run([program, "--ledger", made, "import", folder], check=True, stdout=subprocess.DEVNULL)
        subprocess.run([program, "--ledger", made, "hand", "Bench", "--role", "owner"], input=PASSWORD + "\n", text=True, check=True, stdout=subprocess.DEVNULL)
        for nth in range(1, many):
            subprocess.run([program, "--ledger", made, "backup", os.path.join(place, f"{nth}.ledger")], check=True, stderr=subprocess.DEVNULL)
        for nth in range(many):
            farms.append(Farm(program, os.path.join(place, f"{nth}.ledger"), FIRST_PORT + nth))
        firsts = sorted(farm.first_page for farm in farms)
        print(f"program: {os.path.getsize(program) / 1e6:.1f} MB; ledger: {os.path.getsize(made) / 1e6:.1f} MB")
        print(f"start to the first page: {firsts[len(firsts) // 2] * 1000:.0f} ms, slowest {firsts[-1] * 1000:.0f} ms of {many}")
        time.sleep(2)
        print(f"memory at rest: {sum(farm.memory() for farm in farms) / many:.1f} MB each")
        for farm in farms:
            farm.sign_in()
        print(f"memory after a password: {sum(farm.memory() for farm in farms) / many:.1f} MB each")
        status, headers, page = farms[0].ask("/", farms[0].cookie, packed=True)
        whole = gzip.decompress(page) if headers.get("content-encoding") == "gzip" else page
        assets = sorted(set(re.findall(rb'(?:href|src)="(/assets/[^"]+)"', whole)))
        weights = [len(farms[0].ask(path.decode(), packed=True)[2]) for path in assets]
        print(f"Today over the wire: {len(page) / 1000:.1f} kB, with {len(assets)} assets {(len(page) + sum(weights)) / 1000:.1f} kB; {len(whole) / 1000:.1f} kB unpacked")
        for clients in (1, 8, 32):
            times = load(farms, clients)
            at = lambda share: times[min(int(len(times) * share), len(times) - 1)]
            print(f"{clients} at once: {len(times) / SECONDS:.0f} pages a second, median {at(0.5):.1f} ms, 99 of 100 under {at(0.99):.1f} ms; memory {sum(farm.memory() for farm in farms) / many:.1f} MB each")
    finally:
        for farm in farms:
            farm.end()
        shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    if not 3 <= len(sys.argv) <= 5:
        sys.exit("Name the program and a farm folder: python3 tests/outside/running.py PROGRAM FARM-FOLDER [FARMS] [LEDGER]")
    given = sys.argv[1:] + ["1"] * (3 - len(sys.argv[1:]))
    main(given[0], given[1], int(given[2]), given[3] if len(given) > 3 else "")
