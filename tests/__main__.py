"""Run every check: ``python3 tests [--fast | --long | --bench] [any words for pytest]``."""

import sys

# Before anything a Python older than 3.11 could not read.
if sys.version_info < (3, 11):  # noqa: UP036
    sys.exit(
        f"Fallow: Python 3.11 or newer is needed, and this is {sys.version.split()[0]}. Start again with a newer one."
    )

# Python puts tests/ itself first on the path: nothing may be imported from there by accident.
sys.path.pop(0)

import argparse
import os
import subprocess
import tempfile
import time
import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "binder"))

import environment  # noqa: E402

NO_TESTS = 5
# A full run with fewer tests than these has lost some on the way: raise them as the suite grows, never lower them.
FLOORS = {"library": 3300, "pages": 18, "analyses": 8}


@dataclass(frozen=True)
class Part:
    """One run of pytest: what it is called, what it is given."""

    name: str
    words: tuple[str, ...]


@dataclass(frozen=True)
class Outcome:
    """What one run came to."""

    name: str
    status: int
    tests: int
    failed: int
    skipped: int
    seconds: float

    def __str__(self) -> str:
        """Say it in one line."""
        passed = self.tests - self.failed - self.skipped
        return f"{self.name}: {passed} passed, {self.failed} failed, {self.skipped} skipped in {self.seconds:.0f} s"


def main() -> int:
    """Make the environment if there is none, run what was asked, and say in the last line what came of it."""
    ask = argparse.ArgumentParser(prog="python3 tests", description="Run every check.", allow_abbrev=False)
    ask.add_argument("--fast", action="store_true", help="leave out Chromium and the notebooks")
    ask.add_argument("--long", action="store_true", help="run the long simulations and nothing else")
    ask.add_argument("--bench", action="store_true", help="run the benchmarks; the ratios stand in brackets")
    asked, words = ask.parse_known_args()
    environment.at_root("python3 tests")
    python = environment.ready()
    began = time.monotonic()
    outcomes = [run(part, python) for part in parts(fast=asked.fast, long=asked.long, bench=asked.bench, words=words)]
    complaints = faults(outcomes, whole=not (words or asked.fast or asked.long or asked.bench))
    print(*(f"  {line}" for line in [*map(str, outcomes), *complaints]), sep="\n")
    tests = sum(outcome.tests for outcome in outcomes)
    print(f"{'FAILED' if complaints else 'All is well'}: {tests} tests in {time.monotonic() - began:.0f} s")
    return 1 if complaints else 0


def parts(*, fast: bool, long: bool, bench: bool, words: list[str]) -> list[Part]:
    """Return the runs of pytest that were asked for."""
    if bench:
        columns = "--benchmark-columns=min,median,rounds"
        return [Part("benchmarks", ("tests/bench", "--benchmark-only", columns, "--benchmark-sort=name", *words))]
    if long:
        return [Part("long", ("-m", "long", "--benchmark-disable", *words))]
    marks = "not long and not browser" if fast else "not long"
    library = Part("library", ("-n", "2", "--dist", "loadscope", "--benchmark-disable", "-m", marks, *words))
    if fast or any(is_path(word) for before, word in pairwise(["", *words]) if before not in ("-k", "-m")):
        return [library]
    pages = sorted(map(str, ROOT.glob("workbook/*.ipynb")))
    analyses = sorted(map(str, ROOT.glob("experiments/*/analysis.ipynb")))
    lax = ("--nbval-lax", "--nbval-current-env", "--nbval-cell-timeout=120")
    strict = (*lax[1:], "--nbval", "--nbval-sanitize-with=tests/notebooks/sanitize.cfg")
    notebooks = [Part("pages", (*lax, *pages, *words)), Part("analyses", (*strict, *analyses, *words))]
    return [library, *(part for part, found in zip(notebooks, (pages, analyses), strict=True) if found)]


def is_path(word: str) -> bool:
    """Say whether a word names a file or a folder of the project, or a test in one."""
    return bool(word) and (ROOT / word.split("::")[0]).exists()


def run(part: Part, python: Path) -> Outcome:
    """Run pytest once and read what it wrote about itself."""
    environment.say(f"\n{part.name}:")
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.xml"
        words = [str(python), "-m", "pytest", f"--junitxml={report}", "-q", *part.words]
        status = subprocess.call(words, cwd=ROOT, env=environment.surroundings(), stdin=subprocess.DEVNULL)
        suite = ElementTree.parse(report).find("testsuite") if report.exists() else None
    told = suite.attrib if suite is not None else {}
    count = {name: int(told.get(name, 0)) for name in ("tests", "failures", "errors", "skipped")}
    failed = count["failures"] + count["errors"]
    return Outcome(part.name, status, count["tests"], failed, count["skipped"], time.monotonic() - began)


def faults(outcomes: list[Outcome], *, whole: bool) -> list[str]:
    """Return one line for each run that failed, ran nothing, or lost tests on the way."""
    lines = [f"{o.name} ended with status {o.status}" for o in outcomes if o.status not in (0, NO_TESTS)]
    if all(outcome.status == NO_TESTS for outcome in outcomes):
        lines.append("no test was run")
    if whole:
        ran = {outcome.name: outcome.tests for outcome in outcomes}
        few = {name: floor for name, floor in FLOORS.items() if ran.get(name, 0) < floor}
        lines += [f"{name} ran {ran.get(name, 0)} tests, {floor} are expected" for name, floor in few.items()]
    return lines


if __name__ == "__main__":
    try:
        status = main()
    except KeyboardInterrupt:
        print("\nStopped.")
        status = 130
    # Whatever a library left running in this process, the status is the one that was found.
    sys.stdout.flush()
    os._exit(status)
