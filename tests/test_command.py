"""What ``python3 tests`` runs for which words, and when it says that all is well."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def command():
    """Load tests/__main__.py as a module; it takes the first place off the path, so give it one to take."""
    kept = list(sys.path)
    sys.path.insert(0, str(ROOT / "tests"))
    spec = importlib.util.spec_from_file_location("command_under_test", ROOT / "tests" / "__main__.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up there
    spec.loader.exec_module(module)
    yield module
    sys.path[:] = kept
    del sys.modules[spec.name], sys.modules["environment"]


def asked(command, *words, **flags):
    plain = {"fast": False, "long": False, "bench": False}
    return {part.name: part.words for part in command.parts(**plain | flags, words=list(words))}


def outcome(command, name="library", status=0, tests=10_000, failed=0):
    return command.Outcome(name, status, tests, failed, 0, 1.0)


def test_without_words_everything_runs_but_the_long_ones(command):
    runs = asked(command)
    assert list(runs) == ["library", "pages", "analyses"]
    assert "not long" in runs["library"]
    assert "not browser" not in " ".join(runs["library"])
    assert {"--nbval-lax", str(ROOT / "workbook" / "start.ipynb")} <= set(runs["pages"])
    assert {"--nbval", str(ROOT / "experiments" / "harbour-rota" / "analysis.ipynb")} <= set(runs["analyses"])
    assert "--nbval-lax" not in runs["analyses"]


def test_a_path_is_all_that_runs(command):
    assert list(asked(command, "tests/maths/test_feeds.py::test_x")) == ["library"]


def test_other_words_go_to_every_run(command):
    assert all(words[-2:] == ("-k", "ledger") for words in asked(command, "-k", "ledger").values())


def test_a_word_after_k_is_no_path(command):
    assert "pages" in asked(command, "-k", "workbook")


def test_fast_leaves_chromium_and_notebooks_out(command):
    runs = asked(command, fast=True)
    assert list(runs) == ["library"]
    assert "not long and not browser" in runs["library"]


def test_long_and_bench_run_alone(command):
    assert asked(command, long=True)["long"][:2] == ("-m", "long")
    assert asked(command, bench=True)["benchmarks"][0] == "tests/bench"


def test_all_is_well_only_when_it_is(command):
    good = [outcome(command, name) for name in ("library", "pages", "analyses")]
    assert command.faults(good, whole=True) == []
    assert command.faults([*good[:2], outcome(command, "analyses", status=1, failed=1)], whole=True)
    assert command.faults([*good[:2], outcome(command, "analyses", status=3)], whole=False)


def test_a_run_that_chose_no_test_is_no_fault_unless_all_did(command):
    none = outcome(command, "pages", status=command.NO_TESTS, tests=0)
    assert command.faults([outcome(command), none], whole=False) == []
    assert command.faults([none, none], whole=False) == ["no test was run"]


def test_tests_lost_on_the_way_are_a_fault_of_a_whole_run(command):
    few = [outcome(command, name, tests=1) for name in ("library", "pages", "analyses")]
    assert any("are expected" in line for line in command.faults(few, whole=True))
    assert command.faults(few, whole=False) == []
