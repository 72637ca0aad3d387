"""The random culture effect against lme4, quadrature by another rule, and finite differences."""

from __future__ import annotations

import io
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.optimize import minimize, minimize_scalar
from scipy.special import gammaln, xlogy
from scipy.stats import norm

from fallow.stats.cultures import CultureFit, NewCulture, fit_cultures
from fallow.stats.recovery import CLOGLOG, LOGIT, fit_recovery, risk_table

Reference = Callable[[str], dict[str, Any]]
RunR = Callable[[str], str]


def trial(seed: int, cultures: int, jars: int = 96, spread: float = 0.7) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    culture, level = np.arange(jars) % cultures, rng.normal(0, spread, cultures)
    rye = rng.choice([0.0, 1 / 3], jars)
    eta = (-0.8 + 1.2 * rye + level[culture])[:, None] + 0.5 * np.log(np.arange(1, 7))
    hit = rng.random((jars, 6)) < -np.expm1(-np.exp(eta))
    feed = np.where(hit.any(axis=1), hit.argmax(axis=1) + 1, 6)
    when = {"feeds_to_recovery": np.where(hit.any(axis=1), feed, np.nan), "feeds_observed": feed}
    named = {"jar": np.arange(jars), "culture": [f"bird {c}" for c in culture], "rye_fraction": rye}
    return risk_table(pd.DataFrame({**named, **when, "recovered": hit.any(axis=1)}))


def test_lme4s_own_example(run_r: RunR, reference: Reference) -> None:
    out = reference("mixed_cbpp.json")["rows"][0]["out"]
    herds = pd.read_csv(io.StringIO(run_r("data(cbpp, package='lme4'); write.csv(cbpp, row.names=FALSE)")))
    parts = []
    for _, row in herds.iterrows():
        event = [1] * int(row["incidence"]) + [0] * int(row["size"] - row["incidence"])
        parts.append(pd.DataFrame({"period": str(row["period"]), "culture": row["herd"], "recovered": event}))
    table = pd.concat(parts, ignore_index=True)
    fit = fit_cultures(table.assign(jar=np.arange(len(table))), "C(period)", jeffreys=False, link=LOGIT)
    assert fit.coefficients["estimate"].to_numpy() == pytest.approx(out["estimates"], abs=1e-4)
    assert fit.spread == pytest.approx(out["spread"], abs=1e-4)
    orders = (
        gammaln(herds["size"] + 1) - gammaln(herds["incidence"] + 1) - gammaln(herds["size"] - herds["incidence"] + 1)
    )
    assert fit.loglike + orders.sum() == pytest.approx(out["loglike"], abs=1e-5)


def test_live_lme4_on_a_made_up_trial(run_r: RunR) -> None:
    table = trial(2, cultures=8, jars=56)
    script = f"""suppressMessages(library(lme4)); d <- read.csv(text="{table.to_csv(index=False)}")
    f <- glmer(recovered ~ log(feed) + rye_fraction + (1 | culture), d, binomial("cloglog"), nAGQ=15,
      control=glmerControl(optimizer="bobyqa", optCtrl=list(rhoend=1e-9)))
    cat(sprintf("%.10g", c(fixef(f), attr(VarCorr(f)$culture, "stddev"))))"""
    theirs = [float(v) for v in run_r(script).split()]
    fit = fit_cultures(table, "np.log(feed) + rye_fraction", jeffreys=False)
    assert fit.coefficients["estimate"].to_numpy() == pytest.approx(theirs[:3], abs=1e-4)
    assert fit.spread == pytest.approx(theirs[3], abs=1e-4)


@pytest.mark.parametrize("jeffreys", [True, False])
@pytest.mark.parametrize("link", [CLOGLOG, LOGIT])
def test_slopes_are_those_of_finite_differences(jeffreys: bool, link: Any) -> None:
    fit = fit_cultures(trial(3, cultures=6), "np.log(feed) + rye_fraction", jeffreys, link=link)
    beta, step = fit.peak.beta[None, :] + 0.1, 1e-5
    moves = step * np.eye(beta.shape[1])
    slope, bent, _ = fit.likelihood.slopes(beta)
    by_hand = [(fit.likelihood.value(beta + m) - fit.likelihood.value(beta - m))[0] / (2 * step) for m in moves]
    curved = [(fit.likelihood.slopes(beta + m)[0] - fit.likelihood.slopes(beta - m)[0])[0] / (2 * step) for m in moves]
    assert slope[0] == pytest.approx(by_hand, abs=1e-6)
    assert bent[0] == pytest.approx(np.array(curved), abs=1e-6)


def test_the_chance_for_a_culture_not_met_is_an_average_over_cultures() -> None:
    """Scipy's quad over the standard normal level."""
    fit = fit_cultures(trial(4, cultures=7), "np.log(feed) + rye_fraction", jeffreys=True)
    new = pd.DataFrame({"rye_fraction": [1 / 3]})
    told = fit.ready_by(new, feeds=3)
    beta = fit.coefficients["estimate"].to_numpy()
    eta = beta[0] + beta[1] * np.log([1, 2, 3]) + beta[2] / 3

    def missed(u: float) -> float:
        return float(np.exp(-np.exp(eta + fit.spread * u).sum()) * norm.pdf(u))

    assert told["chance"].iloc[2] == pytest.approx(1 - quad(missed, -9, 9, epsabs=1e-12)[0], abs=1e-8)
    assert (told["low"] < told["chance"]).all()
    assert (told["chance"] < told["high"]).all()


def test_targets_bend_as_finite_differences_say() -> None:
    fit = fit_cultures(trial(5, cultures=6), "np.log(feed)", jeffreys=True)
    alike = fit.plain.target(pd.DataFrame({"x": [0]}), np.arange(1, 4))
    target = NewCulture(fit.likelihood, alike.feeds, alike.weights)
    beta, step = np.repeat(fit.peak.beta[None, :], 3, axis=0), 1e-5
    moves = step * np.eye(beta.shape[1])
    _, slope, bent = target.at(beta)
    by_hand = np.stack([(target.at(beta + m)[0] - target.at(beta - m)[0]) / (2 * step) for m in moves], axis=1)
    curved = np.stack([(target.at(beta + m)[1] - target.at(beta - m)[1]) / (2 * step) for m in moves], axis=1)
    assert slope == pytest.approx(by_hand, abs=1e-8)
    assert bent == pytest.approx(curved, abs=1e-8)


def test_cultures_that_do_not_differ_have_no_spread() -> None:
    """Every culture with the same counts: the maximum lies at none, and the fit is the one without cultures."""
    one = pd.DataFrame({"feed": [1, 1, 1, 2, 2, 3], "recovered": [1, 0, 0, 1, 0, 1]})
    table = pd.concat([one.assign(culture=c, jar=np.arange(6) + 10 * c) for c in range(6)], ignore_index=True)
    fit = fit_cultures(table, "np.log(feed)", jeffreys=False)
    assert fit.spread == pytest.approx(0.0, abs=1e-3)
    assert fit.coefficients["estimate"].to_numpy() == pytest.approx(fit.plain.coefficients["estimate"], abs=1e-5)


def test_cultures_far_apart_still_have_an_estimate() -> None:
    """One of seven never recovers, three do at once. With 25 nodes the slope was not that of the sum, and no climb ended."""
    fit = fit_cultures(trial(6, cultures=7, jars=111, spread=1.5), "np.log(feed) + rye_fraction")
    assert fit.spread > 4
    assert fit.peak.settled
    assert fit.likelihood.slopes(fit.peak.beta[None, :])[0][0] == pytest.approx(0, abs=1e-6)


def furthest(fit: CultureFit, feed: int, rye: float = 0.0) -> tuple[float, float]:
    """Give both ends of the chance to be ready by a feed, by Scipy's SLSQP from three spreads."""
    alike = fit.plain.target(pd.DataFrame({"rye_fraction": [rye]}), np.arange(1, feed + 1))
    target = NewCulture(fit.likelihood, alike.feeds, alike.weights).pick(np.array([feed - 1]))
    floor = fit.peak.value - fit.plain.drop
    room = {"type": "ineq", "fun": lambda beta: fit.likelihood.value(beta[None, :])[0] - floor}
    found = []
    for side in (-1.0, 1.0):
        ends = [
            minimize(
                lambda beta, side=side: -side * target.at(beta[None, :])[0][0],
                np.append(fit.peak.beta[:-1], spread),
                constraints=room,
                method="SLSQP",
                options={"maxiter": 300, "ftol": 1e-12},
            ).fun
            for spread in (0.05, 0.3, 0.8)
        ]
        found.append(-np.expm1(-np.exp(side * -min(ends))))
    return found[0], found[1]


@pytest.mark.parametrize("seed", [10, 5])
def test_the_ends_leave_no_spread_where_that_leads_further(seed: int) -> None:
    """Where the estimate of the spread is none, nothing slopes with it: the search stayed there, up to 0.003 too near."""
    fit = fit_cultures(trial(seed, cultures=7, jars=111, spread=0.1), "np.log(feed) + rye_fraction")
    assert fit.spread == pytest.approx(0.0, abs=1e-6)
    told = fit.ready_by(pd.DataFrame({"rye_fraction": [0.0]}), feeds=2).iloc[1]
    assert (told["low"], told["high"]) == pytest.approx(furthest(fit, 2), abs=1e-6)


@pytest.mark.parametrize("feed", [4, 5, 6])
def test_an_end_lies_where_the_quantity_is_held_and_not_elsewhere(feed: int) -> None:
    """Going straight, the chance turns before it gets there: a place short of it was taken, and 0.9976 told for 0.9931."""
    fit = fit_cultures(trial(0, cultures=12, jars=24, spread=0.1), "np.log(feed) + rye_fraction")
    told = fit.ready_by(pd.DataFrame({"rye_fraction": [0.0]}), feeds=6).iloc[feed - 1]
    assert (told["low"], told["high"]) == pytest.approx(furthest(fit, feed), abs=1e-6)


@pytest.mark.parametrize("link", [CLOGLOG, LOGIT])
@pytest.mark.parametrize("beta", [(0.4, -0.3, 0.2), (9.75, 1.0, -1.5)])
@pytest.mark.parametrize("spread", [0.05, 0.3, 1.0, 3.86, 8.0])
@pytest.mark.parametrize(("cultures", "jars"), [(6, 24), (6, 111), (6, 3000)])
def test_the_average_over_levels_is_the_integral(
    cultures: int, jars: int, spread: float, beta: tuple[float, ...], link: Any
) -> None:
    """Scipy's quad, culture by culture, far from the estimate too, where the level that fits is 30 off the middle.

    At the second beta with 3.86, of 111 jars, 61 Gauss-Hermite nodes about each culture's highest point were off by 1.4e-5:
    slopes were no longer those of the sum, and a search that wants 1e-9 went on for minutes.
    """
    table = trial(2, cultures, jars, spread=1.5)
    likelihood = fit_cultures(table, "np.log(feed) + rye_fraction", jeffreys=False, link=link).likelihood
    rows = likelihood.rows
    total = 0.0
    for culture in range(cultures):
        mine = likelihood.group == culture
        x, events, missed = rows.matrix[mine], rows.events[mine], (rows.at_risk - rows.events)[mine]

        def log_chance(u: float, x=x, events=events, missed=missed) -> float:
            hazard = link.cumulative(x @ beta + spread * u)[0]
            return float((xlogy(events, -np.expm1(-hazard)) - missed * hazard).sum() - u**2 / 2)

        top = minimize_scalar(lambda u: -log_chance(u), bounds=(-60, 60), method="bounded", options={"xatol": 1e-9}).x
        value = sum(
            quad(lambda u, top=top: np.exp(log_chance(u) - log_chance(top)), *ends, epsrel=1e-12, limit=200)[0]
            for ends in pairwise([top - 12, top - 1, top - 0.1, top, top + 0.1, top + 1, top + 12])
        )
        total += log_chance(top) + np.log(value / np.sqrt(2 * np.pi))
    assert likelihood.plain(np.array([[*beta, spread]]))[0] == pytest.approx(total, rel=1e-10)


def test_intervals_for_a_new_culture_hold_the_average_that_those_of_the_cultures_as_one_miss() -> None:
    """A hundred made-up trials of ten cultures; of a hundred intervals of 90 % less than 82 hold a truth once in 200 runs."""
    points, weights = np.polynomial.hermite_e.hermegauss(60)
    total = np.cumsum(np.exp(-0.8 + 0.5 * np.log([1, 2, 3])))
    truth = 1 - np.exp(-np.exp(points)[:, None] * total).T @ weights / weights.sum()
    new = pd.DataFrame({"rye_fraction": [0.0]})
    held = np.zeros((2, 3))
    for seed in range(100):
        table = trial(seed, cultures=10, jars=120, spread=1.0)
        for row, fitted in enumerate((fit_cultures, fit_recovery)):
            told = fitted(table, "np.log(feed) + rye_fraction").ready_by(new, feeds=3)
            held[row] += (told["low"] <= truth) & (truth <= told["high"])
    assert (held[0] >= 82).all()
    assert (held[1] < 75).all()


def test_fewer_than_six_cultures_are_refused_with_the_next_step() -> None:
    with pytest.raises(ValueError, match=r"5 cultures; a spread needs 6. Use C\(culture\)"):
        fit_cultures(trial(6, cultures=5), "np.log(feed)")
