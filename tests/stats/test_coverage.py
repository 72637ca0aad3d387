"""Do 90 % intervals hold the truth nine times in ten? A short run here, the long run's results read and judged."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, chisquare

from fallow.stats.coverage import READY, coverage, targets
from fallow.stats.coverage_truths import TRUTHS, UNSEEN, UNSEEN_SEED, Truth, balanced, seen_chances, trial
from fallow.stats.recovery import fit_recovery, risk_table

Reference = Callable[[str], dict[str, Any]]
Cells = Callable[..., pd.DataFrame]
BY_NAME = {(truth.name, truth.waking): truth for truth in TRUTHS}
EVERY = pytest.mark.parametrize("truth", [*TRUTHS, *UNSEEN], ids=lambda truth: f"{truth.name}-{truth.waking}")
SIZES = (6, 24, 96)


def test_there_are_six_truths_of_three_shapes_with_and_without_hidden_nights() -> None:
    assert {name for name, _ in BY_NAME} == {"constant", "rising", "near-deterministic"}
    assert len(BY_NAME) == 6


@EVERY
def test_trials_are_drawn_from_the_truth_they_claim(truth: Truth) -> None:
    rng = np.random.default_rng(7)
    feeds = np.concatenate([trial(truth, 6, rng)["feeds_to_recovery"].to_numpy()[[2]] for _ in range(1500)])
    expected = seen_chances(truth, truth.plan(6)).mean(axis=0)[2]
    expected = np.append(expected[:4], 1 - expected[:4].sum())
    observed = [*(np.sum(feeds == k) for k in range(1, 5)), np.sum(~(feeds <= 4))]
    assert chisquare(observed, 1500 * expected).pvalue > 1e-4


def test_the_unseen_truths_are_none_of_those_the_intervals_were_built_on() -> None:
    assert len(UNSEEN) >= 6
    for new in UNSEEN:
        assert not {new.hazard, *new.effects.items()} & {old.hazard for old in TRUTHS}
        assert new.rye != TRUTHS[0].rye
    assert {truth.waking for truth in UNSEEN} == {True, False}
    assert len({truth.plan for truth in UNSEEN}) == 2
    assert sum(truth.culture != 0 for truth in UNSEEN) == 2


def test_a_hidden_night_moves_recoveries_later_and_loses_none_before_the_last() -> None:
    for name in ("constant", "rising", "near-deterministic"):
        open_, hidden = (seen_chances(BY_NAME[name, waking], balanced(6)).mean(axis=0) for waking in (False, True))
        assert (np.cumsum(hidden, axis=1) <= np.cumsum(open_, axis=1) + 1e-12).all()
        assert np.cumsum(hidden, axis=1)[:, 0] == pytest.approx(0.7 * open_[:, 0])  # half the jars see 0.4 of feed 1


@EVERY
def test_what_intervals_should_hold_is_what_a_huge_trial_shows(truth: Truth) -> None:
    table = risk_table(trial(truth, 40_000, np.random.default_rng(3)))
    fit = fit_recovery(table, "C(feed)" + truth.covariates, jeffreys=False).coefficients
    wanted = targets(truth)
    for name in truth.effects:
        assert abs(fit.loc[name, "estimate"] - wanted[name]) < 4 * fit.loc[name, "se"]


@EVERY
def test_the_chance_to_be_ready_is_what_such_jars_show(truth: Truth) -> None:
    jars = 40_000
    alike = dataclasses.replace(truth, plan=lambda count: truth.typical.iloc[[0] * count].assign(jar=range(count)))
    seen = trial(alike, jars, np.random.default_rng(4))
    ready = float((seen["feeds_to_recovery"] <= 2).mean())
    assert abs(ready + np.expm1(-np.exp(targets(truth)[READY]))) < 4 * np.sqrt(0.25 / jars)


@pytest.mark.parametrize(("name", "waking", "jars"), [("rising", True, 24), ("constant", False, 6)])
def test_a_short_run_covers_nine_in_ten(name: str, waking: bool, jars: int) -> None:
    """Fewer hits in 60 than a coverage of 0.9 (0.82 from six jars) would show once in ten thousand runs fail."""
    found = coverage(BY_NAME[name, waking], jars=jars, simulations=60, seed=11)
    least = binom.ppf(1e-4, 60, 0.9 if jars == 24 else 0.82) / 60
    assert (found["covered"] >= least).all()
    assert found["what"].tolist() == ["rye_fraction", "np.log1p(days_held)", "ready by feed 2"]


def short_of(table: pd.DataFrame) -> list[str]:
    """Say where a table of coverages falls short of what intervals from 6, 24 and 96 jars must do; bias has its own test."""
    said = []
    for jars, (least, lowest, highest, most) in {
        6: (0.75, 0.85, 0.95, 1),
        24: (0.82, 0.87, 0.93, 1),
        96: (0.86, 0, 1, 0.94),
    }.items():
        mine = table[table["jars"] == jars]
        mean = mine["covered"].mean()
        if not lowest <= mean <= highest:
            said.append(f"{jars} jars: the mean is {mean:.3f}, not {lowest:g} to {highest:g}")
        for row in mine[(mine["covered"] < least) | (mine["covered"] > most)].itertuples():
            said.append(f"{jars} jars: {row.truth}, {row.what} is {row.covered:.3f}, not {least:g} to {most:g}")
    return said


def on_record(reference: Reference, name: str) -> pd.DataFrame:
    return pd.DataFrame([{**row["in"], **row["out"]} for row in reference(name)["rows"]])


def test_the_long_run_on_record_covers_as_it_must(reference: Reference) -> None:
    table = on_record(reference, "coverage.json")
    assert len(table) == 6 * 3 * 3
    assert (table["failed"] == 0).all()
    assert (table["simulations"] >= 1000).all()
    assert short_of(table) == []


def test_the_run_from_unseen_truths_on_record_covers_as_it_must(reference: Reference) -> None:
    table = on_record(reference, "coverage_unseen.json")
    assert len(table) == 3 * sum(len(truth.effects) + 1 for truth in UNSEEN)
    assert (table["failed"] == 0).all()
    assert (table["simulations"] >= 1000).all()
    assert short_of(table) == []


@pytest.mark.long
def test_a_thousand_trials_a_cell(root: Path, cells: Cells) -> None:
    pairs = [(truth, jars) for truth in TRUTHS for jars in SIZES]
    wanted = [{"truth": t, "jars": jars, "simulations": 1000, "seed": 2024 + n} for n, (t, jars) in enumerate(pairs)]
    table = cells(coverage, wanted, "coverage")
    title = "How often 90 % intervals hold a known truth"
    written(root / "tests" / "reference" / "coverage.json", title, table)
    assert (table["failed"] == 0).all()
    assert short_of(table) == []


@pytest.mark.long
def test_a_thousand_trials_a_cell_from_truths_never_used_before(root: Path, cells: Cells) -> None:
    """Written before it was first run, with its truths and its seed; what it finds is recorded as it comes.

    Found: every limit on coverage holds (at 24 jars the lowest cell only just, 0.820), every fit settled and every end is
    finite; at first six of 26,000 ends from six jars were not, for the search had stopped too soon (``profile_walk``).
    """
    pairs = [(n, jars) for n in range(len(UNSEEN)) for jars in SIZES]
    wanted = [
        {"truth": UNSEEN[n], "jars": jars, "simulations": 1000, "seed": (UNSEEN_SEED, n, jars)} for n, jars in pairs
    ]
    table = cells(coverage, wanted, "unseen truths")
    title = "How often 90 % intervals hold a truth that was never used to choose them"
    written(root / "tests" / "reference" / "coverage_unseen.json", title, table)
    assert (table["failed"] == 0).all()
    assert short_of(table) == []


def written(path: Path, title: str, table: pd.DataFrame) -> None:
    given, told = ["truth", "waking", "jars", "what", "simulations"], ["covered", "covered_se", "bias", "failed"]
    rows = [
        {
            "id": f"{row['truth']}, {'waking looks' if row['waking'] else 'every look'}, {row['jars']} jars: {row['what']}",
            "in": {name: row[name] for name in given},
            "out": {name: round(row[name], 4) for name in told},
        }
        for row in table.to_dict("records")
    ]
    source = "own simulation (fallow.stats.coverage), 1000 invented trials a cell; written by python3 tests --long"
    head = {"title": title, "source": source, "tag": "computed", "tolerance": {"abs": 0.0}, "model": None}
    text = json.dumps({**head, "test": "tests/stats/test_coverage.py", "rows": rows}, indent=2) + "\n"
    path.write_text(text, encoding="utf-8")
