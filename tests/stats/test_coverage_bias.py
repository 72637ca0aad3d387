"""Which way estimates err at 24 jars: the limit of 0.15 of a standard error, held against both ways of estimating."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from fallow.stats.coverage import coverage
from fallow.stats.coverage_bias import bias_table
from fallow.stats.coverage_truths import TRUTHS, UNSEEN, UNSEEN_SEED

Reference = Callable[[str], dict[str, Any]]
Cells = Callable[..., pd.DataFrame]
LIMIT = 0.15


def on_record(reference: Reference) -> pd.DataFrame:
    return pd.DataFrame([{**row["in"], **row["out"]} for row in reference("coverage_bias.json")["rows"]])


def test_the_trials_are_those_of_the_coverage() -> None:
    both = [run(TRUTHS[2], jars=24, simulations=12, seed=4) for run in (coverage, bias_table)]
    assert both[1]["jeffreys"].to_numpy() == pytest.approx(both[0]["bias"].to_numpy(), abs=1e-6)
    assert both[1]["what"].tolist() == both[0]["what"].tolist()


def test_adjusted_scores_err_less_than_the_penalty_on_record(reference: Reference) -> None:
    table = on_record(reference)
    assert len(table) == sum(len(truth.effects) + 1 for truth in (*TRUTHS, *UNSEEN))
    assert (table["simulations"] >= 1000).all()
    assert np.sqrt((table["adjusted"] ** 2).mean()) < np.sqrt((table["jeffreys"] ** 2).mean())
    assert table["adjusted_rmse"].sum() < table["jeffreys_rmse"].sum()


@pytest.mark.long
@pytest.mark.parametrize("way", ["jeffreys", "adjusted"])
def test_bias_at_24_jars_is_below_015_of_a_standard_error(way: str, reference: Reference) -> None:
    """Left to fail in the long run where it is not met; the limit is the issue's and stays.

    Why the penalty misses it: ln|I|/2 takes bias of the first order out for a canonical link only (Firth 1993). With the
    complementary log-log link its slope is (2 - c/h)/2 of the leverage, where (1 - c)/2 is needed (c = -ln(1 - h)): too
    much, and more so the higher the hazard (0.67 for 0.40 at h = 0.45). Adjusted scores (``bias_reduced``) are right to
    the first order. Found: beyond the limit are 15 of 44 cells with the penalty (4 of the 18 old ones, 11 of 26 unseen;
    most 0.37) and 6 with adjusted scores (1 of 18, 5 of 26; most 0.43, where a humped hazard meets a smooth baseline).
    The simulation's own error is 0.03 in a cell.
    """
    table = on_record(reference)
    beyond = table[~(table[way].abs() < LIMIT)]
    assert beyond.empty, beyond.to_string()


@pytest.mark.long
def test_a_thousand_trials_both_ways(root: Path, cells: Cells) -> None:
    old = [{"truth": truth, "seed": 2024 + 3 * n + 1} for n, truth in enumerate(TRUTHS)]
    new = [{"truth": truth, "seed": (UNSEEN_SEED, n, 24)} for n, truth in enumerate(UNSEEN)]
    table = cells(bias_table, [{**cell, "jars": 24, "simulations": 1000} for cell in (*old, *new)], "bias")
    given = ["truth", "waking", "jars", "what", "simulations"]
    told = ["jeffreys", "adjusted", "jeffreys_rmse", "adjusted_rmse", "unsettled"]
    rows = [
        {
            "id": f"{row['truth']}, {'waking looks' if row['waking'] else 'every look'}: {row['what']}",
            "in": {name: row[name] for name in given},
            "out": {name: round(row[name], 4) for name in told},
        }
        for row in table.to_dict("records")
    ]
    source = "own simulation (fallow.stats.coverage_bias), 1000 invented trials a cell; written by python3 tests --long"
    title = "Bias at 24 jars over the spread of the estimates, by the Jeffreys penalty and by adjusted scores"
    head = {"title": title, "source": source, "tag": "computed", "tolerance": {"abs": 0.0}, "model": None}
    text = json.dumps({**head, "test": "tests/stats/test_coverage_bias.py", "rows": rows}, indent=2) + "\n"
    (root / "tests" / "reference" / "coverage_bias.json").write_text(text, encoding="utf-8")
