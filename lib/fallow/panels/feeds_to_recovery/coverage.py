"""How often intervals of this kind held a known truth, read from the copy of the long simulation that goes with the page."""

from __future__ import annotations

import json
from importlib import resources

import pandas as pd

from fallow.panels.controls.markup import Part
from fallow.panels.feeds_to_recovery.terms import in_words

# A copy of tests/reference/coverage.json, for the tests do not go with the library; a test fails when they differ.
COPY = "coverage.json"


def covered() -> pd.DataFrame:
    """Return one row per truth, number of jars and what is judged, as the long run left it."""
    text = resources.files(__package__).joinpath(COPY).read_text(encoding="utf-8")
    return pd.DataFrame([{**row["in"], **row["out"]} for row in json.loads(text)["rows"]])


def coverage_parts() -> list[Part]:
    """Return how many of a hundred 90 % intervals held the truth, by number of jars, and what that means."""
    table = covered()
    trials, truths = int(table["simulations"].min()), len(table[["truth", "waking"]].drop_duplicates())
    rows = []
    for (jars, what), mine in table.groupby(["jars", "what"], sort=False):
        hundred = 100 * mine["covered"]
        rows.append(
            (jars, in_words(str(what)).lower(), hundred.mean(), hundred.min(), hundred.max(), mine["bias"].abs().max())
        )
    names = ["jars in the trial", "of", "held the truth, of 100", "worst", "best", "largest bias, standard errors"]
    shown = pd.DataFrame(rows, columns=names).sort_values(names[0], kind="stable")
    formats = dict.fromkeys(names[2:5], "{:.0f}") | {names[5]: "{:.2f}"}
    shown = shown.assign(**{name: shown[name].map(form.format) for name, form in formats.items()})
    return [
        f"Made-up trials from {truths} known truths, {trials} of each size and truth, fitted as here. A 90 % interval should hold "
        "the truth 90 times of 100. Worst and best: for the truth that was hardest and easiest.",
        shown,
        "Intervals from fewer than 12 jars are approximate.",
    ]
