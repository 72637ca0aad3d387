"""Mean bias-reducing adjusted scores, live against R's brglm2, and what they change beside the Jeffreys penalty."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom

from fallow.stats.bias_reduction import bias_reduced
from fallow.stats.links import Link
from fallow.stats.recovery import CLOGLOG, LOGIT, fit_recovery
from fallow.stats.watching import watching

RunR = Callable[[str], str]


def invented(seed: int, rows: int = 60) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    feed, x = rng.integers(1, 4, rows), rng.normal(size=rows).round(2)
    chance = -np.expm1(-np.exp(-0.6 + 0.4 * np.log(feed) + 0.7 * x))
    return pd.DataFrame(
        {"jar": range(rows), "feed": feed, "x": x, "recovered": (rng.random(rows) < chance).astype(int)}
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_brglm2_solves_the_same_equations(seed: int, run_r: RunR) -> None:
    table = invented(seed)
    script = f"""library(brglm2); d <- read.csv(text="{table.to_csv(index=False)}")
      f <- glm(recovered ~ factor(feed) + x, binomial("cloglog"), d, method="brglmFit", type="AS_mean",
               control=brglmControl(epsilon=1e-10, maxit=1000))
      cat(sprintf("%.12g", c(coef(f), summary(f)$coefficients[, 2])))"""
    theirs = [float(value) for value in run_r(script).split()]
    ours = bias_reduced(fit_recovery(table, "C(feed) + x", jeffreys=True), planned_feeds=1)
    assert ours.settled
    assert ours.coefficients["estimate"].to_numpy() == pytest.approx(theirs[:4], abs=1e-6)
    assert ours.coefficients["se"].to_numpy() == pytest.approx(theirs[4:], rel=1e-5)


def test_with_the_logit_and_one_feed_a_jar_it_is_the_jeffreys_penalty() -> None:
    """Firth 1993: for a canonical link the adjusted score is the slope of the penalised likelihood."""
    fit = fit_recovery(invented(4), "C(feed) + x", jeffreys=True, link=LOGIT)
    assert bias_reduced(fit, planned_feeds=1).coefficients["estimate"].to_numpy() == pytest.approx(
        fit.coefficients["estimate"].to_numpy(), abs=1e-7
    )


@pytest.mark.parametrize("events", [[0, 6], [6, 6], [0, 0], [3, 6]])
def test_it_is_finite_where_plain_likelihood_is_not(events: list[int]) -> None:
    rows = [(f"{x}-{i}", 1, x, int(i < e)) for x, e in enumerate(events) for i in range(6)]
    table = pd.DataFrame(rows, columns=["jar", "feed", "x", "recovered"])
    found = bias_reduced(fit_recovery(table, "x", jeffreys=True))
    assert found.settled
    assert np.isfinite(found.coefficients.to_numpy()).all()


def test_the_bias_goes_summed_over_every_possible_trial() -> None:
    """Forty jars, one feed, chance 0.45: no simulation, every outcome with its own chance. Jeffreys overshoots here."""
    size, truth, mean = 40, np.log(-np.log(0.55)), np.zeros(2)
    for events in range(size + 1):
        table = pd.DataFrame({"jar": range(size), "feed": 1, "recovered": [1] * events + [0] * (size - events)})
        fit = fit_recovery(table, "1", jeffreys=True)
        found = float((fit.design.back @ fit.peak.beta)[0]), float(bias_reduced(fit).coefficients["estimate"].iloc[0])
        mean += binom.pmf(events, size, 0.45) * np.array(found)
    jeffreys, adjusted = mean - truth
    # first order, derived: leverage/2 * (0.67 - 0.40) / information = 0.0081
    assert jeffreys == pytest.approx(0.5 * (0.6716 - 0.4022) / (size * 0.4368), rel=0.15)
    assert abs(adjusted) < 0.1 * jeffreys


def test_jars_that_need_no_further_feed_are_reckoned_with() -> None:
    """Sixteen jars, hazard 0.45, watched for four feeds at most: every possible trial with its own chance.

    Counts of recoveries and of feeds at risk are all that the constant hazard's likelihood holds, so trials are summed by
    them. Taking the feeds at risk as given (what brglm2 would do with the same rows) leaves the bias of a stopped count.
    """
    size, feeds, truth = 16, 4, np.log(-np.log(0.55))
    chance = {(1, k): 0.45 * 0.55 ** (k - 1) for k in range(1, feeds + 1)} | {(0, feeds): 0.55**feeds}
    trials = {(0, 0): 1.0}
    for _ in range(size):
        together: dict[tuple[int, int], float] = {}
        for (events, rows), likely in trials.items():
            for (more, seen), one in chance.items():
                key = events + more, rows + seen
                together[key] = together.get(key, 0.0) + likely * one
        trials = together
    assert sum(trials.values()) == pytest.approx(1.0, abs=1e-12)
    mean = np.zeros(3)
    for (events, rows), likely in trials.items():
        if likely < 1e-9:
            continue
        fit = fit_recovery(stopped(size, feeds, events, rows), "1", jeffreys=True)
        ways = [bias_reduced(fit, planned_feeds=until) for until in (1, feeds)]
        assert all(way.settled for way in ways)
        found = [float((fit.design.back @ beta)[0]) for beta in (fit.peak.beta, *(way.beta for way in ways))]
        mean += likely * (np.array(found) - truth)
    jeffreys, at_risk_given, adjusted = mean
    assert jeffreys > 0.02
    assert at_risk_given > 0.01
    assert abs(adjusted) < 0.1 * at_risk_given


def stopped(size: int, feeds: int, events: int, rows: int) -> pd.DataFrame:
    """Return some risk table of that many jars, recoveries and rows in all: all that matters to a constant hazard."""
    length = np.r_[np.ones(events, dtype=int), np.full(size - events, feeds)]
    spare = rows - length.sum()
    for jar in range(events):
        length[jar] += (more := min(feeds - 1, spare))
        spare -= more
    jar, last = np.repeat(np.arange(size), length), np.repeat(length, length)
    feed = np.concatenate([np.arange(1, n + 1) for n in length])
    return pd.DataFrame({"jar": jar, "feed": feed, "recovered": ((jar < events) & (feed == last)).astype(int)})


@pytest.mark.parametrize("link", [CLOGLOG, LOGIT], ids=lambda link: link.name)
def test_the_score_averages_to_nothing_and_its_square_to_the_information(link: Link) -> None:
    """E U = 0 and E UU' = E J over all outcomes: two identities that tie score, curvature and chances together."""
    rng = np.random.default_rng(3)
    feeds = rng.integers(1, 5, 12)
    table = pd.DataFrame(
        {
            "jar": np.repeat(np.arange(12), feeds),
            "feed": np.concatenate([np.arange(1, n + 1) for n in feeds]),
            "x": np.repeat(rng.normal(size=12).round(1), feeds),
        }
    )
    table["recovered"] = ((table["feed"] == feeds[table["jar"]]) & (table["jar"] % 4 > 0)).astype(int)
    watched = watching(fit_recovery(table, "np.log(feed) + x", jeffreys=True, link=link))
    assert watched.jars.sum() == 12
    beta = rng.normal(size=3) / 4
    chance, score, curvature = watched.outcomes(beta)
    assert chance.sum(axis=1) == pytest.approx(1.0, abs=1e-12)
    assert np.einsum("ko,kop->kp", chance, score) == pytest.approx(0.0, abs=1e-12)
    squared = np.einsum("ko,kop,koq->kpq", chance, score, score)
    assert squared == pytest.approx(np.einsum("ko,kopq->kpq", chance, curvature), abs=1e-12)


def test_a_jar_is_taken_to_be_watched_on_only_if_it_recovered() -> None:
    rows = [("a", 1, 0), ("a", 2, 1), ("b", 1, 0), ("b", 2, 0), ("b", 3, 0), ("c", 1, 0), ("d", 1, 1)]
    table = pd.DataFrame(rows, columns=["jar", "feed", "recovered"])
    for formula in ("C(feed)", "1"):
        watched = watching(fit_recovery(table, formula, jeffreys=True))
        # a and d go on to feed 3, b ended there, c ended after feed 1
        assert sorted(watched.planned.sum(axis=1).repeat(watched.jars.astype(int))) == [1, 3, 3, 3]


def test_the_chance_is_corrected_by_the_bend_of_what_is_told() -> None:
    fit = fit_recovery(invented(5), "C(feed) + x", jeffreys=True)
    found, new = bias_reduced(fit), pd.DataFrame({"x": [0.3]})
    told = found.log_totals(new, feeds=2)
    plain = fit.target(new, np.array([1, 2])).at(np.repeat(found.beta[None, :], 2, axis=0))[0]
    # by feed 1 ln(-ln(1 - P)) is a straight sum of coefficients, by feed 2 it bends upward
    assert told[0] == pytest.approx(plain[0], abs=1e-12)
    assert told[1] < plain[1]
