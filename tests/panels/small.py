"""Small records for the tests of pages: too few jars, none back, all back at once, nothing at all."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.stats.conftest import Kitchen

from fallow.records.experiment import Experiment

FALLING = [2.0, 1.0, 0.2]


def one_jar(folder: Path) -> Experiment:
    kitchen = Kitchen(folder)
    kitchen.jar("a", FALLING)
    return kitchen.trial


def three_jars(folder: Path) -> Experiment:
    kitchen = Kitchen(folder)
    for number, name in enumerate("abc"):
        kitchen.jar(name, FALLING[number:], days=7 * (number + 1))
    return kitchen.trial


def none_back(folder: Path) -> Experiment:
    kitchen = Kitchen(folder)
    for name in "abc":
        kitchen.jar(name, [5.0, 4.0, 3.0])
    return kitchen.trial


def all_at_once(folder: Path) -> Experiment:
    kitchen = Kitchen(folder)
    for name in "abcd":
        kitchen.jar(name, [0.0])
    return kitchen.trial


def no_fridge(folder: Path) -> Experiment:
    """Nobody wrote the fridge's temperature down."""
    kitchen = Kitchen(folder)
    for number, name in enumerate("abc"):
        kitchen.jar(name, FALLING[number:], days=7 * (number + 1))
    for row in kitchen.rows["jars"]:
        row.pop("hold_temp_c", None)
    return kitchen.trial


def no_baseline(folder: Path) -> Experiment:
    kitchen = Kitchen(folder, baselines=0)
    for name in "abc":
        kitchen.jar(name, FALLING)
    return kitchen.trial


def baselines_only(folder: Path) -> Experiment:
    return Kitchen(folder).trial


def begun(folder: Path) -> Experiment:
    return Experiment.create(folder, title="Begun", question="How many feeds?")


SMALL: dict[str, Callable[[Path], Experiment]] = {
    "one jar": one_jar,
    "three jars": three_jars,
    "none back": none_back,
    "all at once": all_at_once,
    "no baseline": no_baseline,
    "no fridge": no_fridge,
    "baselines only": baselines_only,
    "begun": begun,
}
