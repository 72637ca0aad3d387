"""Records that tell little: a sentence and the estimable rest, never a traceback and never an infinity."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fallow.stats.life_table import life_table
from fallow.stats.recovery import CLOGLOG, LOGIT, fit_recovery, risk_table
from fallow.stats.review import leave_one_jar_out


def jars(feeds: list[int], recovered: list[bool], **covariates: Any) -> pd.DataFrame:
    when = np.where(recovered, np.array(feeds, dtype=float), np.nan)
    named = {"jar": [f"j{i}" for i in range(len(feeds))], "feeds_to_recovery": when, "feeds_observed": feeds}
    return pd.DataFrame({**named, "recovered": recovered, **covariates})


RYE = [0.0, 0.1, 0.2, 0.3, 0.3]
CASES = {
    "one jar": (jars([3], [True], rye=[0.3]), "Intervals from fewer than 12 jars are approximate"),
    "one jar, not recovered": (jars([4], [False], rye=[0.3]), "No jar recovered"),
    "all at feed 1": (jars([1] * 5, [True] * 5, rye=RYE), "Every jar recovered at the first feed"),
    "none": (jars([4] * 5, [False] * 5, rye=RYE), "No jar recovered"),
    "a covariate that never varies": (jars([1, 2, 3, 2, 1], [True] * 5, rye=[0.3] * 5), "rye is 0.3 in every row"),
    "told apart by rye": (jars([1, 1, 1, 3, 3, 3], [True] * 6, rye=[1, 1, 1, 0, 0, 0]), "approximate"),
    "all of 3000 at feed 1": (jars([1] * 3000, [True] * 3000, rye=[0, 1, 2] * 1000), "Every jar recovered"),
}


@pytest.mark.parametrize("link", [CLOGLOG, LOGIT])
@pytest.mark.parametrize("jeffreys", [True, False])
@pytest.mark.parametrize("formula", ["C(feed) + rye", "np.log(feed) + rye", None])
@pytest.mark.parametrize("name", CASES)
def test_little_told_is_still_told(name: str, formula: str | None, jeffreys: bool | None, link: Any) -> None:
    outcomes, said = CASES[name]
    fit = fit_recovery(risk_table(outcomes), formula, jeffreys, link=link)
    if formula is not None:
        assert any(said in note for note in fit.notes)
    assert all(note.endswith(".") for note in fit.notes)
    assert fit.peak.settled
    assert np.isfinite(fit.coefficients.to_numpy()).all()
    ready = fit.ready_by(outcomes.iloc[[0]], feeds=6)
    numbers = ready[["low", "chance", "high"]].to_numpy()
    assert ((numbers >= 0) & (numbers <= 1)).all()
    assert (np.diff(numbers, axis=1) >= -1e-9).all()
    assert (np.diff(numbers, axis=0) >= -1e-9).all()
    feeds = fit.feeds_for(outcomes.iloc[[0]])
    assert 1 <= feeds.low <= feeds <= feeds.high


def test_two_identical_columns_count_as_one() -> None:
    outcomes = jars([1, 2, 3, 2, 1], [True] * 5, rye=RYE, again=RYE)
    both = fit_recovery(risk_table(outcomes), "np.log(feed) + rye + again")
    once = fit_recovery(risk_table(outcomes), "np.log(feed) + rye")
    assert any(note.startswith("again says nothing") for note in both.notes)
    pd.testing.assert_frame_equal(both.coefficients, once.coefficients)


def test_rows_without_a_covariate_are_left_out_and_counted() -> None:
    outcomes = jars([1, 2, 3, 2, 1], [True] * 5, rye=[0.0, np.nan, 0.2, 0.3, 0.3])
    fit = fit_recovery(risk_table(outcomes), "rye")
    assert any(note.startswith("2 feeds of 1 jar left out: a covariate is missing there.") for note in fit.notes)
    assert fit.jars == 4


def quiet_third_feed(count: int = 250) -> pd.DataFrame:
    """Many jars of which none recovers at feed 3, and all that are left do at feed 6."""
    feeds = np.repeat([1, 2, 4, 5, 6], [count // 5] * 5).tolist()
    return risk_table(jars(feeds, [True] * count))


def test_many_jars_with_a_feed_at_which_none_recovered_follow_the_life_table() -> None:
    """Plain likelihood has no finite hazard there; once the feed before stood in for it: 68 of 100 where 49 had recovered."""
    table = quiet_third_feed()
    fit = fit_recovery(table, "C(feed)")
    assert fit.jeffreys
    assert any("no finite estimate" in note for note in fit.notes)
    ready = fit.ready_by(pd.DataFrame({"x": [0]}), feeds=6)
    assert ready["chance"].to_numpy() == pytest.approx(life_table(table)["ready"].to_numpy(), abs=0.01)
    assert not ready["extrapolated"].any()


def test_plain_likelihood_on_request_marks_what_rests_on_a_feed_left_out() -> None:
    fit = fit_recovery(quiet_third_feed(), "C(feed)", jeffreys=False)
    assert not fit.jeffreys
    assert any(note.startswith("200 rows left out: a hazard of 0 or 1") for note in fit.notes)
    ready = fit.ready_by(pd.DataFrame({"x": [0]}), feeds=7)
    assert ready["extrapolated"].tolist() == [False, False, True, True, True, True, True]


def test_a_jar_left_out_of_many_moves_no_more_than_one_jar_can() -> None:
    """The only recovery at feed 3 among 250 jars: without it that feed is quiet, and its hazard is about none."""
    table = quiet_third_feed()
    table.loc[(table["jar"] == "j249") & (table["feed"] == 3), "recovered"] = 1
    table = table[(table["jar"] != "j249") | (table["feed"] <= 3)]
    table = pd.concat([table, table[table["jar"] == "j0"].assign(jar="z", feed=6, recovered=0)], ignore_index=True)
    fit = fit_recovery(table, "C(feed)")
    assert not fit.jeffreys
    review = leave_one_jar_out(fit, pd.DataFrame({"x": [0]}), feed=3)
    assert review.table["change"].abs().max() < 0.02


def test_an_empty_or_wrong_table_is_refused_in_a_sentence() -> None:
    table = risk_table(jars([1, 2], [True, True], rye=[np.nan, np.nan]))
    with pytest.raises(ValueError, match="no row with all"):
        fit_recovery(table, "rye")
    with pytest.raises(ValueError, match="recovered holds 2"):
        fit_recovery(table.assign(recovered=2), "1")
    with pytest.raises(ValueError, match="lacks jar or recovered"):
        fit_recovery(table.drop(columns="recovered"), "1")


@given(st.integers(0, 10_000), st.sampled_from([2, 3, 4, 6, 9, 14]), st.sampled_from([CLOGLOG, LOGIT]))
@settings(max_examples=40, deadline=None)
def test_no_small_record_breaks_the_penalised_fit(seed: int, count: int, link: Any) -> None:
    rng = np.random.default_rng(seed)
    outcomes = jars(
        rng.integers(1, 6, count).tolist(),
        (rng.random(count) < 0.8).tolist(),
        rye=rng.choice([0.0, 0.33], count),
        days_held=rng.choice([4, 14, 56], count),
    )
    fit = fit_recovery(risk_table(outcomes), "np.log(feed) + rye + np.log1p(days_held)", jeffreys=True, link=link)
    table = fit.coefficients
    assert fit.peak.settled
    assert np.isfinite(table.to_numpy()).all()
    assert (table["low"] <= table["estimate"]).all()
    assert (table["estimate"] <= table["high"]).all()
    ready = fit.ready_by(outcomes.iloc[[0]], feeds=3)
    assert (ready["low"] <= ready["chance"]).all()
    assert (ready["chance"] <= ready["high"]).all()
