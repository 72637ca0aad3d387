"""How often intervals of this kind held a known truth, read from the copies of the long simulations that go with the page."""

from __future__ import annotations

import json
from importlib import resources

import pandas as pd

from fallow.panels.controls.markup import Part
from fallow.panels.feeds_to_recovery.terms import in_words

# Copies of what tests/reference holds, for the tests do not go with the library; a test fails when they differ.
CHOSEN, UNSEEN, DEBT, BIAS = "coverage.json", "coverage_unseen.json", "coverage_debt.json", "coverage_bias.json"
COPIES = (CHOSEN, UNSEEN, DEBT, BIAS)
# The limits asked for before any of these runs.
SMALL_TRIAL, MOST_BIAS = 24, 0.15
LEAST_COVERED, MOST_CALLED = 0.85, 0.05


def recorded(copy: str) -> pd.DataFrame:
    """Return one row per simulated cell, what was asked and what came out, as the long run left it."""
    text = resources.files(__package__).joinpath(copy).read_text(encoding="utf-8")
    return pd.DataFrame([{**row["in"], **row["out"]} for row in json.loads(text)["rows"]])


def coverage_parts() -> list[Part]:
    """Return how many of a hundred 90 % intervals held the truth, by number of jars, and what that means."""
    unseen, chosen, debt, bias = recorded(UNSEEN), recorded(CHOSEN), in_form(), recorded(BIAS)
    fitted, reduced = (int((bias[way].abs() >= MOST_BIAS).sum()) for way in ("jeffreys", "adjusted"))
    missed = int(((debt["covered"] < LEAST_COVERED) | (debt["called_unrecovered"] > MOST_CALLED)).sum())
    return [
        f"Made-up trials from {_truths(unseen)} known truths that nothing was chosen on, {_trials(unseen)} of each size and truth, "
        "fitted as here. A 90 % interval should hold the truth 90 times of 100. Worst and best: for the truth that was hardest "
        "and easiest.",
        _by_jars(unseen),
        f"Intervals from fewer than 12 jars are approximate. At {SMALL_TRIAL} jars, over all {_truths(bias)} truths, {fitted} of "
        f"{len(bias)} fitted estimates lean by {MOST_BIAS:g} standard errors or more (the aim: none); of those without bias, "
        f"under 'Do the estimates lean to one side?', {reduced}.",
        f"The same for the {_truths(chosen)} truths on which the width of small trials' intervals was chosen:",
        _by_jars(chosen),
        f"What a jar in form owes, from five baseline feeds; in truth it owes nothing. The interval should hold that zero at least "
        f"{100 * LEAST_COVERED:g} times of 100, and the jar should be called unrecovered at most {100 * MOST_CALLED:g} times: of "
        f"{len(debt)} kinds of kitchen {_misses(missed)} that. Where looks are far apart many are undecided; below "
        "one half such a jar is not counted as recovered at that feed.",
        _by_kitchen(debt),
    ]


def _misses(count: int) -> str:
    """Return how many miss a limit.

    >>> _misses(0), _misses(1), _misses(2)
    ('none misses', '1 misses', '2 miss')
    """
    return f"{count or 'none'} miss{'es' if count < 2 else ''}"


def in_form() -> pd.DataFrame:
    """Return what was found for jars that owe nothing, a row a kitchen."""
    debt = recorded(DEBT)
    return debt[debt["truth"] == 0]


def _truths(table: pd.DataFrame) -> int:
    return len(table[["truth", "waking"]].drop_duplicates())


def _trials(table: pd.DataFrame) -> int:
    return int(table["simulations"].min())


def _by_jars(table: pd.DataFrame) -> pd.DataFrame:
    rows = []
    for (jars, what), mine in table.groupby(["jars", "what"], sort=False):
        hundred = 100 * mine["covered"]
        rows.append(
            (jars, in_words(str(what)).lower(), hundred.mean(), hundred.min(), hundred.max(), mine["bias"].abs().max())
        )
    names = ["jars in the trial", "of", "held the truth, of 100", "worst", "best", "largest bias, standard errors"]
    shown = pd.DataFrame(rows, columns=names).sort_values(names[0], kind="stable")
    formats = dict.fromkeys(names[2:5], "{:.0f}") | {names[5]: "{:.2f}"}
    return shown.assign(**{name: shown[name].map(form.format) for name, form in formats.items()})


def _by_kitchen(nothing: pd.DataFrame) -> pd.DataFrame:
    numbers = {
        "held the truth, of 100": "covered",
        "called unrecovered, of 100": "called_unrecovered",
        "with undecided ones not counted as recovered": "not_counted",
    }
    shown = {name: (100 * nothing[column]).map("{:.1f}".format) for name, column in numbers.items()}
    chosen_on = nothing["unseen"].map({True: "no", False: "yes"})
    return pd.DataFrame({"kitchen": nothing["kitchen"], "intervals chosen on it": chosen_on, **shown})
