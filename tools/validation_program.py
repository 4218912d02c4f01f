"""Runs whorl for tools/validation, and writes its tables: one estimate with both answers, numbers as text, Markdown."""
import concurrent.futures
import csv
import functools
import json
import math
import os
import re
import subprocess
import sys
import tempfile
import threading
import time

ROOT = os.path.dirname(os.path.dirname(os.path.realpath(__file__)))
FOLDER = os.path.join(ROOT, "tests", "validation")
WHORL = ["whorl"]  # the program: tools/validation puts the one of --build here


def fail(text):
    print("validation: " + text, file=sys.stderr)
    sys.exit(2)


def load(name):
    with open(os.path.join(FOLDER, name), encoding="utf-8") as file:
        return json.load(file)


def changed(case, changes):
    """A copy of the case with 'group.key' entries replaced; 'solution.measured.x' reaches one level deeper."""
    copy = json.loads(json.dumps(case))
    for path, value in changes.items():
        at = copy
        *groups, key = path.split(".")
        for group in groups:
            at = at.setdefault(group, {})
        if value is None:
            at.pop(key, None)
        else:
            at[key] = value
    return copy


class Run:
    """One estimate: its headline, both answers, and the dry diameter of one line whether or not it arrives.

    `profile`: with the stations of the jet. `variants`: with one line in other air and over the run, which takes twice the time.
    """

    def __init__(self, case, profile=True, variants=False):
        with tempfile.TemporaryDirectory() as folder:
            path, table = os.path.join(folder, "case.json"), os.path.join(folder, "jet.csv")
            with open(path, "w", encoding="utf-8") as file:
                json.dump(case, file)
            command = WHORL + ["estimate", path, "--json"] + (["--profile", table] if profile else [])
            command += [] if variants else ["--without-variants", "--without-run"]
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            if done.returncode not in (0, 1):
                fail("a run failed: " + done.stderr.strip())
            document = json.loads(done.stdout)
            self.table = []  # lines of the profile
            if profile and os.path.exists(table):
                with open(table, encoding="utf-8") as file:
                    self.table = file.readlines()
        self.done = document["status"] == "done"
        self.fibre_class = document.get("class", "no result")  # of the headline
        self.landing = document.get("landing", "none")
        self.results = document.get("results", {})
        self.properties = document.get("properties", {})
        self.variants = {v["key"]: v for v in document.get("air_variants", [])}
        self.warnings = {w["code"] for w in document.get("warnings", [])}
        answers = {answer["answer"]: answer for answer in document.get("answers", [])}
        self.line = answers.get("one line per orifice", {})
        self.threads = answers.get("torn threads", {})

    def get(self, key):
        return self.results.get(key)

    @functools.cached_property
    def rows(self):
        """Stations of the jet; few runs are asked for them."""
        return list(csv.DictReader(self.table))

    @property
    def has_jet(self):
        return self.done and self.line.get("class") not in (None, "no-jet", "dripping")

    @property
    def arrives(self):
        """One line reaches the collector."""
        return self.has_jet and bool(self.get("reached_collector"))

    @property
    def line_speed(self):
        if not self.has_jet:
            return None
        if self.get("line_speed_m_s"):
            return self.get("line_speed_m_s")
        return float(self.rows[-1]["speed_m_s"]) if self.rows else None

    @property
    def diameter(self):
        """Dry diameter [um] of one unbroken line: of the laid fibre, or with the speed at which a stalled jet was given up."""
        speed = self.line_speed
        if not speed or speed <= 0:
            return None
        flow = self.get("orifice_flow_mL_min") * 1e-6 / 60.0
        return 1e6 * math.sqrt(4.0 * flow * self.get("polymer_volume_fraction") / (math.pi * speed))

    @property
    def headline(self):
        """Dry diameter [um] of the likelier answer."""
        return self.get("dry_diameter_um")

    @property
    def thread(self):
        return self.get("thread_diameter_um") or None

    @property
    def probability(self):
        """That gas tears the liquid."""
        return self.get("tearing_probability") or 0.0


def run_all(cases, profile=True, variants=False):
    with concurrent.futures.ThreadPoolExecutor(max_workers=max(2, os.cpu_count() or 2)) as pool:
        return list(counted(pool.map(lambda case: run_once(case, profile, variants), cases), len(cases), "model runs"))


def run_once(case, profile=True, variants=False):
    """The run of this case, from earlier in the same table where it was asked for before: the middle of every knob is the same case."""
    key = json.dumps([case, profile, variants], sort_keys=True)
    with asked_lock:
        future, mine = asked.get(key), key not in asked
        if mine:
            future = asked[key] = concurrent.futures.Future()
    if mine:
        try:
            future.set_result(Run(case, profile, variants))
        except BaseException as error:
            future.set_exception(error)
    return future.result()


asked, asked_lock = {}, threading.Lock()


# ---- how far a table is --------------------------------------------------------------------------------------------------

SECONDS_BETWEEN = [2.0 if sys.stderr.isatty() else None]  # lines on standard error; None: none, 0: after every row
counting = [False]  # only the outermost count is told


def counted(rows, total=None, what="rows"):
    """The rows one after the other, saying how many are done and how long the rest takes."""
    if total is None:
        rows = list(rows)
        total = len(rows)
    every = SECONDS_BETWEEN[0]
    if counting[0] or every is None:
        yield from rows
        return
    counting[0] = True
    begun = said = time.monotonic()
    try:
        for done, row in enumerate(rows, 1):
            # a row that is computed by its iterator is done here, one that its reader works on after the yield
            if what == "rows":
                yield row
            now = time.monotonic()
            if now - said >= every:
                left = (now - begun) * (total - done) / done
                print(f"validation: {done} of {total} {what} ({100 * done // total} %), {math.ceil(left)} s left", file=sys.stderr, flush=True)
                said = now
            if what != "rows":
                yield row
    finally:
        counting[0] = False


# ---- words ---------------------------------------------------------------------------------------------------------------

def number(value, digits=2):
    if value is None:
        return "–"
    if value == 0:
        return "0"
    magnitude = math.floor(math.log10(abs(value)))
    if magnitude >= 4 or magnitude < -3:
        return re.sub(r"e([+-])0*(\d)", r"e\1\2", f"{value:.{digits - 1}e}").replace("e+", "e")
    text = f"{round(value, digits - 1 - magnitude):.{max(0, digits - 1 - magnitude)}f}"
    return text


def signed(value):
    text = f"{value:+.2f}".replace("-", "−")
    return "0.00" if text[1:] == "0.00" else text


def band(low, high, unit=""):
    a, b = number(low), number(high)
    return (a if a == b else f"{a} to {b}") + (f" {unit}" if unit else "")


def table(head, rows):
    print("| " + " | ".join(head) + " |")
    print("|" + "---|" * len(head))
    for row in rows:
        print("| " + " | ".join(str(cell).replace("|", "\\|").replace("\n", " ") for cell in row) + " |")


def explained(row, verdict):
    """The explanation was written for one verdict: say so when the program has moved on."""
    written = row.get("written_for")
    if written != verdict:
        print(f"validation: {row['id']}: the explanation was written for '{written}', the verdict is now '{verdict}': "
              "rewrite it in facts.json", file=sys.stderr)
        return f"**{verdict}** (explanation to be revised)"
    return f"**{verdict}**. {row['why']}"
