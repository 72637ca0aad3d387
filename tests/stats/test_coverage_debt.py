"""Do the intervals of W hold, and are jars in form left alone? A short run here, the long run's results read and judged."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom

from fallow.stats.coverage_debt import DEBTS, FIVE_BASELINES, KITCHEN_SEED, KITCHENS, Kitchen, clock_rows, debt_coverage

Reference = Callable[[str], dict[str, Any]]
Cells = Callable[..., pd.DataFrame]
COVERED_AT_LEAST, UNRECOVERED_AT_MOST = 0.85, 0.05


@pytest.mark.parametrize("kitchen", KITCHENS, ids=lambda kitchen: kitchen.name)
def test_trials_obey_the_law_and_are_seen_between_looks(kitchen: Kitchen) -> None:
    rows = pd.concat([clock_rows(kitchen, np.random.default_rng(seed)) for seed in range(60)])
    assert (rows["low_hours"] < rows["high_hours"]).all()
    # the middle of a whole night says little of where in it the peak was
    seen = rows[rows["high_hours"] - rows["low_hours"] <= 1.5 * kitchen.look_hours]
    middle = kitchen.pace * (seen["earned_low"] + seen["earned_high"]) / 2
    error = middle - seen["cost_doublings"] - kitchen.ripening_doublings - seen["truth"]
    # a quarter of a look's doublings and the error of the mean
    assert abs(error.mean()) < 0.05 + 4 * error.std() / np.sqrt(len(error))
    assert (rows["kind"] == "baseline").sum() == 60 * len(FIVE_BASELINES)


def test_a_short_run_holds_and_leaves_jars_in_form_alone() -> None:
    """Jars of one trial share its c, so the trials and not the jars are counted: 1 in 10,000 for a coverage of 0.85."""
    found = debt_coverage(KITCHENS[0], simulations=40, seed=8).set_index("truth")
    assert found.index.tolist() == list(DEBTS)
    assert found.loc[0.0, "covered"] >= binom.ppf(1e-4, 40, 0.85) / 40
    assert found.loc[0.0, "called_unrecovered"] <= binom.ppf(1 - 1e-4, 40, 0.05) / 40
    assert found.loc[2.5, "called_unrecovered"] > 0.9


def short_of(table: pd.DataFrame) -> list[str]:
    """Say where a table falls short: 90 % intervals hold 85 times in 100, jars in form called unrecovered 5 times at most."""
    said = [
        f"{row.kitchen}, W {row.truth:g}: covered {row.covered:.3f}"
        for row in table[table["covered"] < COVERED_AT_LEAST].itertuples()
    ]
    in_form = table[(table["truth"] == 0) & (table["called_unrecovered"] > UNRECOVERED_AT_MOST)]
    return said + [f"{row.kitchen}: called unrecovered {row.called_unrecovered:.3f}" for row in in_form.itertuples()]


def test_the_record_says_where_the_limits_hold(reference: Reference) -> None:
    """No jar in form is surely called unrecovered; where looks are far apart it may be undecided (see the long run)."""
    table = pd.DataFrame([{**row["in"], **row["out"]} for row in reference("coverage_debt.json")["rows"]])
    assert len(table) == len(KITCHENS) * len(DEBTS)
    assert (table["simulations"] >= 1000).all()
    assert (table.loc[table["truth"] == 0, "surely_unrecovered"] <= UNRECOVERED_AT_MOST).all()
    named = {said.split(":")[0].split(", W")[0] for said in short_of(table)}
    assert named == {"unsteady, a look every two hours", "asleep at night"}


@pytest.mark.long
def test_a_thousand_kitchens_of_each_kind(root: Path, cells: Cells) -> None:
    """Written before it was first run, with its kitchens and its seed; left to fail where the limits are not met.

    Found: met in four kitchens of six. With peaks unsteady by 0.35 doublings and a look every two hours W of a jar in form is
    covered 79 times in 100 and called unrecovered 27 times; asleep at night it is covered 87 times, but called unrecovered
    29 times. Nearly all of these are 'undecided' (a chance of 0.2 to 0.5): surely unrecovered are 0.6 in 100 at most.
    """
    wanted = [{"kitchen": k, "simulations": 1000, "seed": (KITCHEN_SEED, n)} for n, k in enumerate(KITCHENS)]
    table = cells(debt_coverage, wanted, "debts")
    told = ["covered", "called_unrecovered", "surely_unrecovered", "seen"]
    rows = [
        {
            "id": f"{row['kitchen']}: W {row['truth']:g}",
            "in": {name: row[name] for name in ("kitchen", "truth", "simulations")},
            "out": {name: round(row[name], 4) for name in told},
        }
        for row in table.to_dict("records")
    ]
    source = "own simulation (fallow.stats.coverage_debt), 1000 invented trials a cell; written by python3 tests --long"
    title = "How often 90 % intervals hold a known debt W, with five baseline feeds"
    head = {"title": title, "source": source, "tag": "computed", "tolerance": {"abs": 0.0}, "model": None}
    text = json.dumps({**head, "test": "tests/stats/test_coverage_debt.py", "rows": rows}, indent=2) + "\n"
    (root / "tests" / "reference" / "coverage_debt.json").write_text(text, encoding="utf-8")
    assert short_of(table) == []
