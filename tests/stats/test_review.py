"""A reviewer's questions, each against fits made the long way round."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from fallow.stats.bias_reduction import bias_reduced
from fallow.stats.held_out import leave_one_culture_out
from fallow.stats.recovery import CLOGLOG, LOGIT, fit_recovery, risk_table
from fallow.stats.review import compare_links, leave_one_jar_out, proportional_hazards, without_bias

NEW = pd.DataFrame({"rye_fraction": [0.0], "days_held": [14.0]})


def outcomes(seed: int, jars: int, *, turning: float = 0.0, spread: float = 0.0) -> pd.DataFrame:
    """Invented jars of three cultures; ``turning`` lets the effect of rye grow with ln(feed)."""
    rng = np.random.default_rng(seed)
    rye, days = rng.choice([0.0, 1.0], jars), rng.choice([7.0, 28.0], jars)
    culture = rng.integers(0, 3, jars)
    feeds = np.arange(1, 7)
    eta = (-1.0 + 0.5 * rye + spread * (culture - 1))[:, None] + (0.4 + turning * rye[:, None]) * np.log(feeds)
    hit = rng.random((jars, 6)) < -np.expm1(-np.exp(eta))
    when = np.where(hit.any(axis=1), hit.argmax(axis=1) + 1, 6)
    named = {"jar": [f"j{i}" for i in range(jars)], "rye_fraction": rye, "days_held": days}
    birds = np.array(["gannet", "petrel", "skua"])[culture]
    recovered = hit.any(axis=1)
    seen = {"feeds_to_recovery": np.where(recovered, when, np.nan), "feeds_observed": when, "recovered": recovered}
    return pd.DataFrame({**named, "culture": birds, **seen})


def test_estimates_without_bias_stand_beside_those_of_the_fit() -> None:
    fit = fit_recovery(risk_table(outcomes(6, 24)), "np.log(feed) + rye_fraction")
    other, review = bias_reduced(fit), without_bias(fit, NEW)
    terms, ready = fit.coefficients, "ready by feed 2"
    assert review.table.index.tolist() == [*terms.index, ready]
    assert review.table["fitted"].iloc[:-1].to_numpy() == pytest.approx(terms["estimate"].to_numpy())
    assert review.table["reduced"].iloc[:-1].to_numpy() == pytest.approx(other.coefficients["estimate"].to_numpy())
    moved = (other.coefficients["estimate"] - terms["estimate"]) / terms["se"]
    assert review.table["moved"].iloc[:-1].to_numpy() == pytest.approx(moved.to_numpy())
    chances = -np.expm1(-np.exp(review.table.loc[ready, ["fitted", "reduced"]].astype(float)))
    assert chances["fitted"] == pytest.approx(fit.ready_by(NEW, feeds=2)["chance"].iloc[1])
    assert f"from {chances['fitted']:.0%} to {chances['reduced']:.0%}" in review.sentence


def test_where_no_estimate_is_without_bias_it_is_said() -> None:
    """Six jars, four coefficients: white jars all recover at feed 1, so rye and days are hardly told apart."""
    told = pd.DataFrame(
        {
            "jar": range(6),
            "rye_fraction": [0.0, 1 / 3] * 3,
            "days_held": [7.0, 7.0, 21.0, 21.0, 42.0, 42.0],
            "feeds_to_recovery": [1, 2, 1, 4, 1, 5],
            "recovered": True,
        }
    )
    review = without_bias(fit_recovery(risk_table(told), "np.log(feed) + rye_fraction + np.log1p(days_held)"), NEW)
    assert review.table.empty
    assert "too few jars" in review.sentence


def test_leaving_out_a_jar_is_fitting_without_it() -> None:
    told = outcomes(1, 24)
    fit = fit_recovery(risk_table(told), "np.log(feed) + rye_fraction")
    review = leave_one_jar_out(fit, NEW)
    assert sorted(review.table.index) == sorted(told["jar"])
    for jar in ("j0", "j7", review.table.index[0]):
        without = fit_recovery(risk_table(told[told["jar"] != jar]), "np.log(feed) + rye_fraction")
        chance = without.ready_by(NEW, feeds=2)["chance"].iloc[1]
        assert review.table.loc[jar, "chance"] == pytest.approx(chance, abs=1e-7)
    assert review.table["change"].abs().is_monotonic_decreasing
    assert f"Leaving out jar {review.table.index[0]}" in review.sentence


def test_the_order_of_the_rows_does_not_matter() -> None:
    """A jar's last row was taken for the one at which it recovered: of a shuffled table the wrong jar was named."""
    table = risk_table(outcomes(1, 24))
    first, second = (
        leave_one_jar_out(fit_recovery(rows, "np.log(feed) + rye_fraction"), NEW).table["change"]
        for rows in (table, table.sample(frac=1, random_state=3))
    )
    assert second[first.index].to_numpy() == pytest.approx(first.to_numpy(), abs=1e-8)


def test_a_jar_that_moves_nothing_to_speak_of_is_said_so() -> None:
    told = outcomes(1, 8).assign(feeds_to_recovery=1, feeds_observed=1, recovered=True)
    review = leave_one_jar_out(fit_recovery(risk_table(told), "1"), NEW)
    assert (
        review.sentence == "Leaving out jar j0 moves the chance of being ready by feed 2 most, and leaves it at 100%."
    )


def test_the_only_jar_cannot_be_left_out() -> None:
    review = leave_one_jar_out(fit_recovery(risk_table(outcomes(2, 1)), "1"), NEW)
    assert review.sentence == "There is no forecast without the only jar."


def test_a_jar_alone_with_its_level_leaves_no_forecast_when_it_goes() -> None:
    told = outcomes(3, 12)
    told["place"] = ["shelf"] * 11 + ["door"]
    fit = fit_recovery(risk_table(told), "np.log(feed) + C(place)")
    review = leave_one_jar_out(fit, NEW.assign(place="door"))
    assert np.isnan(review.table.loc["j11", "chance"])
    assert review.table["chance"].notna().sum() == 11


def test_an_effect_that_turns_with_the_feed_is_seen_and_a_steady_one_is_not() -> None:
    turning = proportional_hazards(fit_recovery(risk_table(outcomes(4, 600, turning=1.5)), "C(feed) + rye_fraction"))
    assert turning.table.loc["rye_fraction", "low"] > 0
    assert "rye_fraction changes from feed to feed" in turning.sentence
    steady = proportional_hazards(fit_recovery(risk_table(outcomes(5, 600)), "C(feed) + rye_fraction + days_held"))
    assert list(steady.table.index) == ["rye_fraction", "days_held"]
    assert "No covariate's effect is seen to change" in steady.sentence


def test_the_turn_of_an_effect_is_the_coefficient_of_its_product() -> None:
    table = risk_table(outcomes(6, 80))
    review = proportional_hazards(fit_recovery(table, "C(feed) + rye_fraction"))
    by_hand = table.assign(product=table["rye_fraction"] * np.log(table["feed"]))
    wider = fit_recovery(by_hand, "C(feed) + rye_fraction + product").coefficients.loc["product"]
    assert review.table.loc["rye_fraction"].to_numpy() == pytest.approx(
        wider[["estimate", "low", "high"]].to_numpy(), abs=1e-5
    )


def test_without_covariates_there_is_nothing_to_compare_by_feed() -> None:
    review = proportional_hazards(fit_recovery(risk_table(outcomes(7, 20)), "C(feed)"))
    assert review.table.empty
    assert "nothing to compare" in review.sentence


def test_links_side_by_side_are_their_own_fits() -> None:
    table = risk_table(outcomes(8, 60))
    review = compare_links(fit_recovery(table, "C(feed) + rye_fraction"), NEW, feeds=3)
    for link in (CLOGLOG, LOGIT):
        fit = fit_recovery(table, "C(feed) + rye_fraction", link=link)
        row = review.table.loc[link.name]
        assert row["loglike"] == pytest.approx(fit.loglike, abs=1e-9)
        assert row["aic"] == pytest.approx(-2 * fit.loglike + 2 * len(fit.coefficients), abs=1e-8)
        chances = row[["ready_by_1", "ready_by_2", "ready_by_3"]].to_numpy(float)
        assert chances == pytest.approx(fit.ready_by(NEW, feeds=3)["chance"].to_numpy(), abs=1e-9)


def test_a_culture_left_out_is_scored_by_the_squared_gaps_of_its_forecast() -> None:
    """One jar of the culture left out, recovered at feed 3 of 3: worked by hand from the forecast of the others."""
    others = outcomes(9, 30).assign(feeds_to_recovery=lambda d: d["feeds_to_recovery"].clip(upper=3))
    others = others[others["culture"] != "skua"].assign(feeds_observed=lambda d: d["feeds_observed"].clip(upper=3))
    one = others.iloc[[0]].assign(jar="last", culture="skua", feeds_to_recovery=3, feeds_observed=3, recovered=True)
    result = leave_one_culture_out(risk_table(pd.concat([others, one])), "np.log(feed) + rye_fraction + C(culture)")
    fit = fit_recovery(risk_table(others), "np.log(feed) + rye_fraction")
    forecast = fit.ready_by(one, feeds=3)["chance"].to_numpy()
    assert result.table.loc["skua", "hazard"] == pytest.approx(((forecast - [0, 0, 1]) ** 2).sum(), abs=1e-9)
    assert result.table.loc["skua", "always 2 feeds"] == 1.0
    assert result.table.loc["all jars", "jars"] == len(others) + 1


def test_a_jar_not_seen_recovered_is_scored_over_what_was_seen() -> None:
    told = outcomes(10, 30)
    waiting = told.iloc[[0]].assign(
        jar="w", culture="heron", feeds_to_recovery=np.nan, feeds_observed=1, recovered=False
    )
    result = leave_one_culture_out(risk_table(pd.concat([told, waiting])), "np.log(feed) + rye_fraction")
    assert result.table.loc["heron", "always 2 feeds"] == 0.0
    assert 0 < result.table.loc["heron", "hazard"] < 1


def test_one_culture_cannot_be_forecast_from_others() -> None:
    table = risk_table(outcomes(11, 12).assign(culture="skua"))
    assert leave_one_culture_out(table, "np.log(feed)").sentence == "One culture alone cannot be forecast from others."
