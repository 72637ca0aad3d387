"""Ends far out: six trials of six jars whose intervals were once told as endless, against a general optimiser."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
from scipy.optimize import minimize

from fallow.stats.coverage_truths import UNSEEN, UNSEEN_SEED, trial
from fallow.stats.default_formula import baseline
from fallow.stats.likelihood import HazardLikelihood
from fallow.stats.profile_likelihood import profile_ends
from fallow.stats.recovery import fit_recovery, risk_table
from fallow.stats.recovery_fit import RecoveryFit
from fallow.stats.targets import Linear

Floats = npt.NDArray[np.float64]
DAYS, CULTURE = "np.log1p(days_held)", "C(culture)[T.petrel]"


def fitted(truth: int, number: int) -> RecoveryFit:
    """Fit one trial of the long run: it draws them one after another from one seed."""
    rng = np.random.default_rng((UNSEEN_SEED, truth, 6))
    for _ in range(number + 1):
        jars = trial(UNSEEN[truth], 6, rng)
    table = risk_table(jars)
    return fit_recovery(table, baseline(table) + UNSEEN[truth].covariates, jeffreys=True)


def penalised(rows: HazardLikelihood, beta: Floats) -> tuple[float, Floats]:
    """Value and gradient by another way than the library's: ln|I|/2 from a QR of the weighted rows, not from I."""
    eta = np.clip(rows.matrix @ beta, -650, 650)
    total = np.exp(eta)
    with np.errstate(all="ignore"):
        recovered = np.where(total > 1e-8, np.log(-np.expm1(-total)), eta - total / 2)
        odds = np.where(total < 1e-10, 1 / total, 1 / np.expm1(np.minimum(total, 700)))
    missed = rows.at_risk - rows.events
    root = np.exp(eta - (total + recovered - np.log(rows.at_risk)) / 2)
    across, corner = np.linalg.qr(root[:, None] * rows.matrix)
    share = (across**2).sum(axis=1)
    value = (rows.events * recovered - missed * total).sum() + np.log(np.abs(np.diag(corner))).sum()
    pull = np.where(share > 0, share * (2 - total - total * odds), 0.0)
    return float(value), (total * (rows.events * odds - missed) + pull / 2) @ rows.matrix


def furthest(fit: RecoveryFit, weights: Floats, side: int, start: Floats) -> float:
    """Scipy's SLSQP: the target as far out as the penalised likelihood stays within the drop."""
    floor = fit.peak.value - fit.drop
    inside = {
        "type": "ineq",
        "fun": lambda beta: max(penalised(fit.likelihood, beta)[0] - floor, -1e6),
        "jac": lambda beta: penalised(fit.likelihood, beta)[1],
    }
    outward: Callable[[Floats], float] = lambda beta: -side * float(weights @ beta)  # noqa: E731
    how = {"maxiter": 1000, "ftol": 1e-14}
    found = minimize(outward, start, jac=lambda _: -side * weights, constraints=[inside], method="SLSQP", options=how)
    assert penalised(fit.likelihood, found.x)[0] == pytest.approx(floor, abs=1e-5)
    return float(weights @ found.x)


# The optimiser finds these ends from hundreds of places, too, that know nothing of our search; from here in one climb.
@pytest.mark.parametrize(("truth", "number", "term", "side", "start"), [
    (5, 275, DAYS, 1, [519, 260, 612, 424]),
    (7, 43, DAYS, -1, [93, 73, 70, -98, -96]),
    (7, 522, DAYS, -1, [100, 87, 29, -94, 72]),
    (7, 522, CULTURE, 1, [100, 87, 29, -94, 72]),
    (7, 931, DAYS, -1, [184, 132, 102, -169, 12]),
])  # fmt: skip
def test_an_end_far_out_is_that_of_a_general_optimiser(
    truth: int, number: int, term: str, side: int, start: list[float]
) -> None:
    fit = fitted(truth, number)
    weights = fit.design.back[list(fit.design.names).index(term)]
    found = fit.coefficients.loc[term, "high" if side > 0 else "low"]
    assert found == pytest.approx(furthest(fit, weights, side, np.array(start, dtype=float)), rel=1e-6)


def test_the_gradient_the_optimiser_climbs_by_is_right() -> None:
    fit = fitted(7, 43)
    moves = 1e-6 * np.eye(len(fit.peak.beta))
    beta = fit.peak.beta + 0.3
    by_hand = [(penalised(fit.likelihood, beta + m)[0] - penalised(fit.likelihood, beta - m)[0]) / 2e-6 for m in moves]
    assert penalised(fit.likelihood, beta)[1] == pytest.approx(np.array(by_hand), abs=1e-6)
    assert penalised(fit.likelihood, fit.peak.beta)[0] == pytest.approx(fit.peak.value, abs=1e-9)


# Two of these lie where no other optimiser of ours has come; held to be finite only.
@pytest.mark.parametrize(("truth", "number"), [(3, 293), (5, 275), (7, 43), (7, 311), (7, 522), (7, 931)])
def test_with_the_penalty_every_end_is_finite(truth: int, number: int) -> None:
    fit = fitted(truth, number)
    assert np.isfinite(fit.coefficients.to_numpy()).all()
    typical = fit.target(UNSEEN[truth].typical, np.arange(1, 3))
    ends = profile_ends(fit.likelihood, fit.peak, typical, drop=fit.drop)
    assert np.isfinite([ends.low, ends.high]).all()


@pytest.mark.parametrize(("truth", "number"), [(7, 522), (7, 82), (7, 96), (7, 116)])
def test_no_end_is_passed_by_the_place_of_another(truth: int, number: int) -> None:
    """The lower of two ridges was taken for the only one: ends of chances lay up to three times further out."""
    fit = fitted(truth, number)
    asked = fit.target(UNSEEN[truth].typical, np.arange(1, 7))
    terms = profile_ends(fit.likelihood, fit.peak, Linear(fit.design.back), drop=fit.drop)
    ready = fit.ready_by(UNSEEN[truth].typical, feeds=6)
    assert fit.likelihood.value(terms.places) == pytest.approx(fit.peak.value - fit.drop, abs=1e-6)
    there = fit.design.back @ terms.places.T
    assert (there.min(axis=1) >= terms.low - 1e-5).all()
    assert (there.max(axis=1) <= terms.high + 1e-5).all()
    chance = -np.expm1(-np.exp(np.minimum(asked.across(terms.places), 50)))
    assert (chance.min(axis=1) >= ready["low"] - 1e-6).all()
    assert (chance.max(axis=1) <= ready["high"] + 1e-6).all()


def test_every_target_at_every_place_is_what_each_is_at_its_own() -> None:
    fit = fitted(7, 522)
    for target in (Linear(fit.design.back), fit.target(UNSEEN[7].typical, np.arange(1, 6))):
        places = fit.peak.beta + 0.1 * np.arange(25).reshape(5, 5)
        assert np.diag(target.across(places)) == pytest.approx(target.at(places)[0], abs=1e-12)


def test_only_the_penalty_rules_an_endless_interval_out() -> None:
    fit = fitted(7, 43)
    rows = fit.likelihood
    alone = HazardLikelihood(rows.matrix, rows.at_risk, rows.events, rows.link, jeffreys=False)
    assert alone.endless
    assert not rows.endless
