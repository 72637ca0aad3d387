"""Feeds to recovery from counts, against published fits, closed forms and statsmodels."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy.optimize import minimize
from scipy.stats import chi2, t

from fallow.stats.likelihood import HazardLikelihood, highest
from fallow.stats.recovery import CLOGLOG, LOGIT, default_formula, fit_recovery, risk_table

Reference = Callable[[str], dict[str, Any]]


def rows_of(reference: Reference, name: str) -> dict[str, Any]:
    return {row["id"]: row for row in reference(name)["rows"]}


@pytest.fixture(scope="module")
def first_event(reference: Reference) -> pd.DataFrame:
    data = rows_of(reference, "hazard_first_event.json")["data"]["in"]
    parts = []
    for group, (at_risk, events) in enumerate(zip(data["at_risk"], data["events"], strict=True)):
        for grade, n, e in zip(data["grade"], at_risk, events, strict=True):
            jar = [f"{group}-{i}" for i in range(n)]
            parts.append(
                pd.DataFrame({"jar": jar, "feed": grade, "group": group, "recovered": [1] * e + [0] * (n - e)})
            )
    return pd.concat(parts, ignore_index=True)


def test_the_typed_table_has_the_published_size(first_event: pd.DataFrame, reference: Reference) -> None:
    out = rows_of(reference, "hazard_first_event.json")["data"]["out"]
    assert (len(first_event), first_event["recovered"].sum()) == (out["rows"], out["events"])
    assert first_event["jar"].nunique() == out["jars"]


@pytest.mark.parametrize(("name", "link"), [("A logit", LOGIT), ("B logit", LOGIT), ("B cloglog", CLOGLOG)])
def test_singer_and_willett(name: str, link: Any, first_event: pd.DataFrame, reference: Reference) -> None:
    row = rows_of(reference, "hazard_first_event.json")[name]
    fit = fit_recovery(first_event, row["in"]["formula"], jeffreys=False, link=link)
    assert fit.coefficients["estimate"].to_numpy() == pytest.approx(row["out"]["coefficients"], abs=5e-5)
    assert -2 * fit.loglike == pytest.approx(row["out"]["deviance"], abs=0.005)
    if "se_of_group" in row["out"]:
        assert fit.coefficients.loc["group", "se"] == pytest.approx(row["out"]["se_of_group"], abs=1e-4)


def test_the_survivor_function_of_all(first_event: pd.DataFrame, reference: Reference) -> None:
    wanted = rows_of(reference, "hazard_first_event.json")["life table"]["out"]["survivor"]
    shifted = first_event.assign(feed=first_event["feed"] - 6)
    ready = fit_recovery(shifted, "C(feed)", jeffreys=False).ready_by(pd.DataFrame({"x": [0]}), feeds=6)
    assert 1 - ready["chance"].to_numpy() == pytest.approx(wanted, abs=5e-5)


def arms(events: list[int], exposure: list[int]) -> pd.DataFrame:
    parts = [
        pd.DataFrame(
            {"jar": [f"{arm}-{i}" for i in range(n)], "feed": 1, "arm": arm, "recovered": [1] * e + [0] * (n - e)}
        )
        for arm, (e, n) in enumerate(zip(events, exposure, strict=True))
    ]
    return pd.concat(parts, ignore_index=True)


@pytest.mark.parametrize("name", ["T7", "T8", "T8b"])
def test_closed_forms(name: str, reference: Reference) -> None:
    row = rows_of(reference, "hazard_closed_forms.json")[name]
    table = arms(row["in"]["events"], row["in"]["exposure"])
    for link in (CLOGLOG, LOGIT):
        if link.name in row["out"]:
            fit = fit_recovery(table, "1" if name == "T7" else "arm", jeffreys=False, link=link)
            wanted = row["out"][link.name]
            assert fit.coefficients["estimate"].iloc[-1] == pytest.approx(wanted[0], abs=1e-6)
            if wanted[1] is not None:
                assert fit.coefficients["se"].iloc[-1] == pytest.approx(wanted[1], abs=1e-6)
    if "likelihood_ratio" in row["out"]:
        full, none = (fit_recovery(table, formula, jeffreys=False).loglike for formula in ("arm", "1"))
        assert 2 * (full - none) == pytest.approx(row["out"]["likelihood_ratio"], abs=1e-6)


def made_up(seed: int, jars: int, most: int = 7) -> pd.DataFrame:
    """Invented outcomes with four covariates; the hazard rises with the feed and the rye."""
    rng = np.random.default_rng(seed)
    days, rye = rng.choice([4, 7, 14, 28, 56], jars), rng.choice([0.0, 1 / 3], jars)
    place, culture = rng.normal(24, 2, jars).round(1), rng.choice(["gannet", "petrel", "skua"], jars)
    eta = -0.6 - 0.3 * np.log1p(days / 7) + 0.9 * rye + 0.08 * (place - 24)
    feeds = np.arange(1, most + 1)
    chance = -np.expm1(-np.exp(eta[:, None] + 0.6 * np.log(feeds)))
    hit = rng.random((jars, most)) < chance
    first = np.where(hit.any(axis=1), hit.argmax(axis=1) + 1, most)
    return pd.DataFrame(
        {
            "jar": [f"j{i}" for i in range(jars)],
            "feeds_to_recovery": np.where(hit.any(axis=1), first, np.nan),
            "feeds_observed": first,
            "recovered": hit.any(axis=1),
            "days_held": days,
            "rye_fraction": rye,
            "place_temp_c": place,
            "culture": culture,
        }
    )


FORMULA = "C(feed) + np.log1p(days_held) + rye_fraction + place_temp_c + C(culture)"


@pytest.mark.parametrize(
    ("link", "theirs"), [(CLOGLOG, sm.families.links.CLogLog()), (LOGIT, sm.families.links.Logit())]
)
def test_plain_likelihood_is_that_of_statsmodels(link: Any, theirs: Any) -> None:
    table = risk_table(made_up(11, 150, most=4))
    fit = fit_recovery(table, FORMULA, jeffreys=False, link=link)
    names, matrix = fit.recipe.matrix(table)
    glm = sm.GLM(table["recovered"].to_numpy(float), matrix, family=sm.families.Binomial(theirs)).fit(tol=1e-13)
    assert list(fit.coefficients.index) == names
    assert fit.coefficients["estimate"].to_numpy() == pytest.approx(glm.params, abs=1e-7)
    assert fit.coefficients["se"].to_numpy() == pytest.approx(glm.bse, rel=1e-6)
    assert fit.loglike == pytest.approx(glm.llf, abs=1e-9)


@pytest.mark.parametrize("jeffreys", [True, False])
@pytest.mark.parametrize("link", [CLOGLOG, LOGIT])
def test_counted_patterns_give_what_single_rows_give(jeffreys: bool, link: Any) -> None:
    table = risk_table(made_up(12, 90, most=4))
    fit = fit_recovery(table, "C(feed) + np.log1p(days_held) + rye_fraction", jeffreys, link=link)
    rows = fit.design.rows(fit.recipe.matrix(table)[1])
    single = HazardLikelihood(rows, np.ones(len(table)), table["recovered"].to_numpy(float), link, jeffreys)
    assert len(fit.likelihood.matrix) < len(table) / 2
    beta = fit.design.back @ highest(single, np.zeros(single.columns)).beta
    assert beta == pytest.approx(fit.coefficients["estimate"].to_numpy(), abs=1e-6)
    assert single.plain(fit.peak.beta[None, :])[0] == pytest.approx(fit.loglike, abs=1e-9)


@pytest.mark.parametrize("jeffreys", [True, False])
@pytest.mark.parametrize("link", [CLOGLOG, LOGIT])
def test_slopes_and_curvature_are_those_of_finite_differences(jeffreys: bool, link: Any) -> None:
    rng = np.random.default_rng(4)
    matrix = np.column_stack([np.ones(40), rng.normal(size=(40, 2))])
    n = rng.integers(1, 6, 40).astype(float)
    likelihood = HazardLikelihood(matrix, n, rng.binomial(n.astype(int), 0.4).astype(float), link, jeffreys)
    beta, step = np.array([[-0.4, 0.3, -0.2]]), 1e-5
    moves = step * np.eye(3)
    slope, curvature, _ = likelihood.slopes(beta)
    by_hand = [(likelihood.value(beta + m) - likelihood.value(beta - m))[0] / (2 * step) for m in moves]
    bent = [(likelihood.slopes(beta + m)[0] - likelihood.slopes(beta - m)[0])[0] / (2 * step) for m in moves]
    assert slope[0] == pytest.approx(by_hand, abs=1e-6)
    assert curvature[0] == pytest.approx(np.array(bent), abs=1e-6)


def test_the_chance_is_one_minus_the_product_of_what_is_missed() -> None:
    fit = fit_recovery(risk_table(made_up(13, 60, most=4)), "C(feed) + rye_fraction")
    new = pd.DataFrame({"rye_fraction": [1 / 3]})
    beta = fit.coefficients["estimate"]
    eta = beta["Intercept"] + beta["rye_fraction"] / 3 + np.r_[0, beta.filter(like="feed").to_numpy()]
    hazard = -np.expm1(-np.exp(eta))
    held = np.r_[hazard, hazard[-1], hazard[-1]]
    ready = fit.ready_by(new, feeds=6)
    assert ready["chance"].to_numpy() == pytest.approx(1 - np.cumprod(1 - held), abs=1e-12)
    assert ready["extrapolated"].tolist() == [False] * 4 + [True] * 2
    assert (ready["low"] < ready["chance"]).all()
    assert (ready["chance"] < ready["high"]).all()
    assert ready.columns.tolist() == ["feed", "chance", "low", "high", "extrapolated"]


@pytest.mark.parametrize("chance", [0.5, 0.9, 0.99])
def test_feeds_for_a_chance_are_where_the_chance_gets_there(chance: float) -> None:
    fit = fit_recovery(risk_table(made_up(14, 60)), "np.log(feed) + rye_fraction")
    new = pd.DataFrame({"rye_fraction": [0.0]})
    ready = fit.ready_by(new, feeds=60)
    answer = fit.feeds_for(new, chance=chance)
    first = [ready["feed"][ready[end] >= chance].min() for end in ("chance", "high", "low")]
    assert [answer, answer.low, answer.high] == first
    assert answer.low <= answer.estimate <= answer.high


def test_feeds_for_is_infinite_where_sixty_feeds_are_not_enough() -> None:
    never = pd.DataFrame(
        {"jar": list("abcdefgh"), "feeds_to_recovery": np.nan, "feeds_observed": 9, "recovered": False}
    )
    answer = fit_recovery(risk_table(never), "1").feeds_for(pd.DataFrame({"x": [0]}), chance=0.5)
    assert answer == answer.high == float("inf")
    # One parameter, no event in 72 jar-feeds: l(m) = -72 m + ln(72 m^2/(e^m - 1))/2 with m the hazard each feed adds.
    grid = np.geomspace(1e-5, 1.0, 200_001)
    height = -72 * grid + 0.5 * np.log(72 * grid**2 / np.expm1(grid))
    highest_hazard = grid[height >= height.max() - t.ppf(0.95, 7) ** 2 / 2][-1]
    assert answer.low == np.ceil(np.log(2) / highest_hazard)


def test_the_interval_of_a_chance_is_a_profile_not_a_tangent() -> None:
    """With a constant hazard ln(-ln(1 - P_k)) = eta + ln k, so its profile is that of a re-centred intercept, moved."""
    table = risk_table(made_up(15, 40))
    fit = fit_recovery(table, "place_temp_c")
    ready = fit.ready_by(pd.DataFrame({"place_temp_c": [26.0]}), feeds=5)
    centred = fit_recovery(table.assign(place_temp_c=table["place_temp_c"] - 26.0), "place_temp_c").coefficients
    for name in ("low", "high"):
        moved = centred.loc["Intercept", name] + np.log(np.arange(1, 6))
        assert np.log(-np.log1p(-ready[name])).to_numpy() == pytest.approx(moved, abs=1e-6)


@pytest.mark.parametrize("link", [CLOGLOG, LOGIT])
def test_profile_bounds_are_those_of_a_general_optimiser(link: Any) -> None:
    """Scipy's SLSQP: the lowest and highest ln(-ln(1 - P)) whose penalised likelihood lies within t(49)^2/2."""
    fit = fit_recovery(risk_table(made_up(16, 50, most=4)), "C(feed) + rye_fraction + place_temp_c", link=link)
    new = pd.DataFrame({"rye_fraction": [1 / 3], "place_temp_c": [22.0]})
    ready = fit.ready_by(new, feeds=3)
    rows = fit.design.rows(fit.recipe.matrix(pd.concat([new] * 3).assign(feed=[1, 2, 3]))[1])
    floor = fit.peak.value - t.ppf(0.95, 49) ** 2 / 2

    def logged(beta: np.ndarray, k: int) -> float:
        return float(np.log(link.cumulative(rows[:k] @ beta)[0].sum()))

    def room(beta: np.ndarray) -> float:
        return float(fit.likelihood.value(beta[None, :])[0] - floor)

    for k in (1, 3):
        for side, name in ((1.0, "low"), (-1.0, "high")):
            bound = {"type": "ineq", "fun": room}
            done = minimize(lambda b, s=side, k=k: s * logged(b, k), fit.peak.beta, constraints=bound, method="SLSQP")
            ours = np.log(-np.log1p(-ready[name].iloc[k - 1]))
            assert logged(done.x, k) == pytest.approx(ours, abs=1e-4)


def test_a_jar_outside_the_record_is_said_to_be() -> None:
    fit = fit_recovery(risk_table(made_up(17, 60)), "np.log(feed) + np.log1p(days_held)")
    far, near = pd.DataFrame({"days_held": [120.0]}), pd.DataFrame({"days_held": [20.0]})
    assert fit.ready_by(far, feeds=2)["extrapolated"].all()
    assert fit.beyond_record(far) == ("days_held is 120; the record has 4 to 56. This is a guess.",)
    assert not fit.ready_by(near, feeds=2)["extrapolated"].any()
    assert fit.beyond_record(near) == ()
    assert fit.beyond_record(pd.DataFrame({"days_held": [60.0]})) == ("days_held is 60; the record has 4 to 56.",)


@pytest.mark.parametrize(
    ("new", "said"),
    [
        (pd.DataFrame({"rye_fraction": [0.0, 0.1], "culture": "skua"}), "exactly one jar"),
        (pd.DataFrame({"rye_fraction": [0.0]}), "new has no culture"),
        (pd.DataFrame({"rye_fraction": [np.nan], "culture": "skua"}), "new has no rye_fraction"),
        (
            pd.DataFrame({"rye_fraction": [0.0], "culture": "heron"}),
            "culture is heron; the record has gannet, petrel, skua",
        ),
    ],
)
def test_a_forecast_needs_one_jar_the_record_knows(new: pd.DataFrame, said: str) -> None:
    fit = fit_recovery(risk_table(made_up(18, 60)), "np.log(feed) + rye_fraction + C(culture)")
    with pytest.raises(ValueError, match=said):
        fit.ready_by(new)
    with pytest.raises(ValueError, match=said):
        fit.feeds_for(new)


def test_the_penalty_is_on_below_two_hundred_jars_unless_asked() -> None:
    assert fit_recovery(risk_table(made_up(19, 199)), "1").jeffreys
    assert not fit_recovery(risk_table(made_up(19, 200)), "1").jeffreys
    assert fit_recovery(risk_table(made_up(19, 200)), "1", jeffreys=True).jeffreys


def test_the_default_formula_takes_as_much_as_the_recoveries_bear() -> None:
    few, many = risk_table(made_up(20, 12)), risk_table(made_up(20, 120))
    assert default_formula(few).startswith("np.log(feed)")
    assert default_formula(many) == "C(feed) + np.log1p(days_held) + rye_fraction + place_temp_c + C(culture)"
    assert default_formula(many, covariates=("rye_fraction",)) == "C(feed) + rye_fraction"
    assert fit_recovery(few).recoveries == few["recovered"].sum()


def test_cultures_are_counted_among_the_rows_that_the_other_covariates_leave() -> None:
    """Seven cultures, of two of which nobody wrote the rye down: five are left, too few for a spread of their own."""
    rows = pd.DataFrame(
        {
            "jar": range(210),
            "feed": 1,
            "recovered": 1,
            "rye_fraction": [(0.0, 0.3)[n // 7 % 2] if n % 7 < 5 else np.nan for n in range(210)],
            "culture": [f"c{n % 7}" for n in range(210)],
        }
    )
    assert default_formula(rows) == "C(feed) + rye_fraction + C(culture)"
    assert default_formula(rows.fillna({"rye_fraction": 0.3})) == "C(feed) + rye_fraction"


def test_the_kind_of_standard_error_is_named() -> None:
    assert "expected (Fisher) information" in fit_recovery(risk_table(made_up(21, 20)), "1").standard_errors


def test_how_far_the_likelihood_may_fall_in_an_interval() -> None:
    """Half of chi-squared's quantile for plain likelihood and for many jars; half of Student's t squared for few."""
    few, many = risk_table(made_up(22, 8)), risk_table(made_up(22, 250))
    assert fit_recovery(few, "1", jeffreys=False).drop == pytest.approx(chi2.ppf(0.9, 1) / 2)
    assert fit_recovery(many, "1", jeffreys=True).drop == pytest.approx(chi2.ppf(0.9, 1) / 2)
    assert fit_recovery(few, "1", jeffreys=True).drop == pytest.approx(1.894579**2 / 2, rel=1e-6)  # t, 7 degrees
