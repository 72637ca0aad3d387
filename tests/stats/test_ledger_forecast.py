"""The ledger's forecast against worked examples, against its own limits, and beside the invented trial."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import expit, logit

from fallow.maths.cold import STOP
from fallow.maths.debt import cold_doublings
from fallow.maths.defaults import DEFAULTS
from fallow.maths.draws import even_shares
from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.records.demo_truth import Truth
from fallow.records.experiment import Experiment
from fallow.stats.carried import CarriedShare, by_rye
from fallow.stats.clock_posterior import Believed, nothing_known
from fallow.stats.cold import ColdFit, fit_cold
from fallow.stats.ledger_forecast import (
    HALF_RELATIVE_SD,
    Schedule,
    debts_on_return,
    ledger_ready_by,
    ready_chances,
)
from fallow.stats.ledger_record import chilled_young, ledger_by_jar, ledger_of_record


@pytest.fixture(scope="module")
def fit(harbour_rota: Experiment) -> ColdFit:
    return fit_cold(harbour_rota)


@pytest.mark.parametrize(("survivors", "dilution", "feeds"), [
    (0.01, 3, 2), (0.01, 6, 3), (0.01, 11, 4), (0.001, 3, 3), (0.001, 6, 4), (0.001, 11, 6),
])  # fmt: skip
def test_feeds_that_repay_a_debt(survivors: float, dilution: float, feeds: int) -> None:
    # closed form, by hand: ceil(-log2(survivors)/(earned - log2 D)), at 26 degC with 9 h of every 12 earning (3 h lag)
    earned = np.array([float(GAENZLE_1998_YEAST.per_hour(temp_c=26.0)) * 9 / math.log(2)])
    owed = np.array([[-math.log2(survivors)]])
    steps = [(math.log2(dilution), earned)] * 8
    ready = ready_chances(owed=owed, steps=steps, carried=np.zeros((1, 1)), limit_doublings=0.0)[:, 0]
    assert math.ceil(-math.log2(survivors) / (float(earned[0]) - math.log2(dilution))) == feeds
    # the debt is seen to be gone at the feed after the last that repaid it
    assert int(np.argmax(ready > 0)) == feeds


def test_wait_for_the_peak_and_it_is_one_or_two() -> None:
    for days in (4, 56):
        table = ledger_ready_by(Schedule(days_held=days, hold_temp_c=4, dilution=5, place_temp_c=22))
        assert table["chance"].iloc[1] == 1.0


def test_fed_faster_than_it_grows_it_is_never_ready() -> None:
    rushed = Schedule(days_held=28, hold_temp_c=4, dilution=11, place_temp_c=18, hours_between_feeds=8)
    assert ledger_ready_by(rushed, feeds=10)["chance"].iloc[-1] < 0.05


def test_longer_colder_warmer_each_the_way_it_must() -> None:
    def by_two(**changed: float) -> float:
        usual = {"days_held": 28, "hold_temp_c": 5, "dilution": 5, "place_temp_c": 22, "hours_between_feeds": 12}
        return float(ledger_ready_by(Schedule(**{**usual, **changed}))["chance"].iloc[1])

    assert by_two(days_held=56) < by_two() < by_two(days_held=7)
    assert by_two(hold_temp_c=7) < by_two() < by_two(hold_temp_c=3)
    assert by_two(place_temp_c=20) < by_two() < by_two(place_temp_c=26)
    assert by_two(dilution=8) < by_two() < by_two(dilution=3)


def test_a_jar_chilled_young_differs_by_the_story_about_the_cold() -> None:
    young = Schedule(
        days_held=7, hold_temp_c=4, dilution=5, place_temp_c=22, hours_between_feeds=12, chilled_young_doublings=2
    )
    creep, stop = ledger_ready_by(young), ledger_ready_by(young, cold=STOP)
    assert (creep["cold"].iloc[0], stop["cold"].iloc[0]) == ("creep", "stop")
    assert stop["chance"].iloc[1] < creep["chance"].iloc[1]


def test_debts_have_the_mean_and_the_spread_that_was_chosen() -> None:
    owed = debts_on_return(mean_doublings=2.0, young_doublings=np.zeros(200))
    assert owed.mean() == pytest.approx(2.0, rel=0.01)
    assert owed.std() == pytest.approx(1.0, rel=0.08)


def by_chance(asked: Schedule, believed: Believed, carried: CarriedShare) -> np.ndarray:
    """Play 10,000 beliefs of 300 jars each with every doubt drawn for itself; give the share of jars ready, by feed and belief."""
    rng, size = np.random.default_rng(5), (10_000, 300)
    shape = HALF_RELATIVE_SD**-2
    mean = float(cold_doublings(days=asked.days_held, temp_c=asked.hold_temp_c))
    owed = mean * rng.gamma(shape, 1 / shape, size[0])[:, None] * rng.gamma(shape, 1 / shape, size)
    place_c = asked.place_temp_c + rng.normal(0.0, DEFAULTS.place_offset_c.sd, size[0])
    rate = np.asarray(GAENZLE_1998_YEAST.per_hour(temp_c=place_c)) / math.log(2)
    earned = rng.choice(believed.pace, size[0]) * rate * asked.hours_between_feeds
    at = rng.integers(len(carried.middle_logit), size=size[0])
    share = expit(carried.middle_logit[at][:, None] + carried.spread_logit[at][:, None] * rng.normal(size=size))
    ready, by_feed = np.zeros(size, dtype=bool), []
    for _ in range(8):
        ready |= owed <= 0.5
        by_feed.append(ready.mean(axis=1))
        owed = np.maximum(share * owed, owed + math.log2(asked.dilution) - earned[:, None])
    return np.array(by_feed)


@pytest.mark.parametrize("who", ["nobody", "fulmar", "fulmar long held"])
def test_chances_and_their_ends_are_those_of_doubts_drawn_apart(fit: ColdFit, who: str) -> None:
    """Pieced together from three even sequences the lower end was the 11th hundredth; from two of jars, debt told of share."""
    days, temp_c, place_c = (42, 7, 21) if who == "fulmar long held" else (21, 4, 24)
    asked = Schedule(days_held=days, hold_temp_c=temp_c, dilution=5, place_temp_c=place_c, hours_between_feeds=12)
    if who == "nobody":
        even = 0.85 * even_shares(count=600, columns=3, seed=14)[:, 2]
        believed = nothing_known(draws=2000)
        carried = CarriedShare(middle_logit=logit(even), spread_logit=np.zeros(600), jars=0)
    else:
        believed, carried = fit.believed["fulmar"], by_rye(fit)[False]
    told = ledger_ready_by(asked, feeds=8, believed=believed, carried=carried)
    played = by_chance(asked, believed, carried)
    assert told["chance"].to_numpy() == pytest.approx(played.mean(axis=1), abs=0.02)
    for name, level in (("low", 0.05), ("high", 0.95)):
        ends = [np.quantile(played, level + off, axis=1) for off in (-0.035, 0.035)]
        assert (told[name] >= ends[0] - 0.02).all()
        assert (told[name] <= ends[1] + 0.02).all()


def test_a_schedule_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="dilution is 1; a feed adds water and flour"):
        Schedule(days_held=7, hold_temp_c=4, dilution=1, place_temp_c=22)
    with pytest.raises(ValueError, match="hours_between_feeds is 0"):
        Schedule(days_held=7, hold_temp_c=4, dilution=5, place_temp_c=22, hours_between_feeds=0)


def test_the_carried_share_of_the_invented_trial_is_found_again(fit: ColdFit) -> None:
    carried = by_rye(fit)
    for rye, truth in ((False, Truth().carried_fraction_white), (True, Truth().carried_fraction_third_rye)):
        low, middle, high = carried[rye].interval
        assert low - 0.02 < truth < high + 0.02
        assert abs(middle - truth) < 0.06
    assert carried[True].interval[2] < carried[False].interval[0]


def test_with_the_carried_share_the_ledger_comes_to_the_counts(harbour_rota: Experiment, fit: ColdFit) -> None:
    alone = ledger_of_record(harbour_rota, fit=fit)
    with_share = ledger_of_record(harbour_rota, fit=fit, carried=by_rye(fit))
    assert alone["chance"].iloc[1] > 0.8
    assert with_share["chance"].iloc[1] < 0.5
    assert (np.diff(with_share["chance"]) >= 0).all()
    assert (alone["low"] <= alone["chance"]).all()
    by_jar = ledger_by_jar(harbour_rota, fit=fit)
    assert by_jar.groupby("feed")["chance"].mean().to_numpy() == pytest.approx(alone["chance"].to_numpy())


def test_what_a_jar_lacked_when_chilled_is_the_laws(harbour_rota: Experiment) -> None:
    young = chilled_young(harbour_rota).set_index("jar")
    # J002 by hand: 1:5:5 is D 11; 2 h at 21 degC, 6.99 d at 3 degC, and 0.29 doublings more while it cooled
    rates = [float(GAENZLE_1998_YEAST.per_hour(temp_c=t)) / math.log(2) for t in (21.0, 3.0)]
    assert young.loc["J002", "cost_doublings"] == pytest.approx(math.log2(11))
    assert young.loc["J002", "earned"] == pytest.approx(2 * rates[0] + 6.99 * 24 * rates[1] + 0.17, abs=0.1)
