"""The life table against the published one of Singer & Willett."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from fallow.stats.life_table import life_table, median_feeds
from fallow.stats.recovery import CLOGLOG, LOGIT, fit_recovery, risk_table

Reference = Callable[[str], dict[str, Any]]


@pytest.fixture(scope="module")
def teachers(reference: Reference) -> pd.DataFrame:
    row = reference("teachers_life_table.json")["rows"][0]["in"]
    years = np.arange(1, 13)
    when = np.concatenate([np.repeat(years, row["events"]), np.repeat(years, row["censored"])])
    left = np.arange(len(when)) < sum(row["events"])
    jars = {"jar": np.arange(len(when)), "feeds_to_recovery": np.where(left, when, np.nan), "feeds_observed": when}
    return risk_table(pd.DataFrame({**jars, "recovered": left}))


def test_hazard_survivor_and_median_are_the_printed_ones(teachers: pd.DataFrame, reference: Reference) -> None:
    out = reference("teachers_life_table.json")["rows"][0]["out"]
    counts = life_table(teachers)
    assert counts["hazard"].to_numpy() == pytest.approx(out["hazard"], abs=5e-5)
    assert 1 - counts["ready"].to_numpy() == pytest.approx(out["survivor"], abs=5e-5)
    assert median_feeds(counts) == pytest.approx(out["median"], abs=5e-4)
    assert round(median_feeds(counts), 1) == 6.6


def test_greenwood_errors(teachers: pd.DataFrame, reference: Reference) -> None:
    row = reference("teachers_life_table.json")["rows"][1]
    errors = life_table(teachers).set_index("feed")["se"].loc[row["in"]["years"]]
    assert errors.to_numpy() == pytest.approx(row["out"]["se"], abs=1e-6)


@pytest.mark.parametrize("link", [CLOGLOG, LOGIT])
def test_a_fit_free_by_feed_gives_the_life_table(teachers: pd.DataFrame, reference: Reference, link: Any) -> None:
    out = reference("teachers_life_table.json")["rows"][0]["out"]
    fit = fit_recovery(teachers, "0 + C(feed)", jeffreys=False, link=link)
    assert fit.coefficients["estimate"].to_numpy() == pytest.approx(out[link.name], abs=1e-6)
    ready = fit.ready_by(pd.DataFrame({"any": [1]}), feeds=12)
    assert ready["chance"].to_numpy() == pytest.approx(life_table(teachers)["ready"], abs=1e-9)


def test_all_recovered_leaves_no_error_and_none_no_median() -> None:
    every = life_table(pd.DataFrame({"feed": [1, 1], "recovered": [1, 1]}))
    assert every["se"].tolist() == [0.0]
    none = life_table(pd.DataFrame({"feed": [1, 1, 2, 2], "recovered": [0, 0, 0, 0]}))
    assert median_feeds(none) == float("inf")
