"""Learning from few: the prior alone says so, each jar moves it, and the trial's truth is drawn near."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtr

from fallow.records.experiment import Experiment
from fallow.stats.cold import ColdFit, fit_cold
from fallow.stats.learning import CARRIED, CARRIED_RYE, MOST_CARRIED, Learned, before_any_jar, forecast, learn
from fallow.stats.ledger_forecast import Schedule
from fallow.stats.outcomes import outcomes

ASKED = Schedule(days_held=28, hold_temp_c=7, dilution=5, place_temp_c=21)


@pytest.fixture(scope="module")
def fit(harbour_rota: Experiment) -> ColdFit:
    return fit_cold(harbour_rota)


@pytest.fixture(scope="module")
def table(harbour_rota: Experiment, fit: ColdFit) -> pd.DataFrame:
    return outcomes(harbour_rota, fit=fit)


@pytest.fixture(scope="module")
def all_jars(harbour_rota: Experiment, fit: ColdFit, table: pd.DataFrame) -> Learned:
    return learn(harbour_rota, fit=fit, outcomes=table)


def share(learned: Learned, which: int) -> float:
    return float(learned.weight @ (MOST_CARRIED * ndtr(learned.points[:, which])))


def width(learned: Learned) -> float:
    row = forecast(ASKED, learned=learned).iloc[3]
    return float(row["both_high"] - row["both_low"])


def test_without_a_jar_it_is_the_prior_and_says_so() -> None:
    told = forecast(ASKED)
    assert told["both"].tolist() == told["prior"].tolist()
    assert told["data"].isna().all()
    assert told["guess"].iloc[0].startswith("no jar is on record")
    assert told["cold"].iloc[0] == "creep"


def test_each_jar_moves_it_and_more_narrow_it(
    harbour_rota: Experiment, fit: ColdFit, table: pd.DataFrame, all_jars: Learned
) -> None:
    one, twelve = (learn(harbour_rota, fit=fit, outcomes=table.iloc[:n]) for n in (1, 12))
    before = before_any_jar()
    assert forecast(ASKED, learned=one)["both"].iloc[2] != forecast(ASKED)["both"].iloc[2]
    assert width(all_jars) < width(twelve) < width(before)
    assert (before.jars, one.jars, twelve.jars, all_jars.jars) == (0, 1, 12, 111)


def test_the_whole_record_tells_rye_from_white(all_jars: Learned) -> None:
    assert share(before_any_jar(), CARRIED) == pytest.approx(MOST_CARRIED / 2, abs=0.01)
    assert 0.5 < share(all_jars, CARRIED) < 0.7
    assert 0.25 < share(all_jars, CARRIED_RYE) < 0.45
    white, rye = (forecast(ASKED, learned=all_jars, rye_fraction=r)["both"].iloc[2] for r in (0.0, 0.33))
    assert rye > white + 0.2


def test_weights_are_a_distribution_that_has_not_collapsed(all_jars: Learned) -> None:
    assert all_jars.weight.sum() == pytest.approx(1)
    assert 1 / (all_jars.weight**2).sum() > 20


def test_the_counts_stand_beside(all_jars: Learned) -> None:
    counts = pd.DataFrame({"feed": [1, 2], "chance": [0.1, 0.3], "low": [0.0, 0.2], "high": [0.2, 0.4]})
    told = forecast(ASKED, learned=all_jars, counts=counts)
    assert told["data"].iloc[:2].tolist() == [0.1, 0.3]
    assert told["data_high"].iloc[1] == 0.4
    assert np.isnan(told["data"].iloc[2])


def test_chances_only_rise_and_stay_chances(all_jars: Learned) -> None:
    told = forecast(ASKED, learned=all_jars)
    for name in ("prior", "both"):
        assert (told[name].diff().dropna() >= 0).all()
        assert told[[name, f"{name}_low", f"{name}_high"]].stack().between(0, 1 + 1e-9).all()
        assert (told[f"{name}_low"] <= told[f"{name}_high"]).all()


@pytest.mark.parametrize(("schedule", "words"), [
    (Schedule(days_held=85, hold_temp_c=4, dilution=5, place_temp_c=22), "a guess: the longest hold on record is 56 days"),
    (Schedule(days_held=20, hold_temp_c=12, dilution=5, place_temp_c=22), "a guess: the fridges on record were at 3 to 7 °C"),
    (Schedule(days_held=83, hold_temp_c=4, dilution=5, place_temp_c=22), ""),
    (Schedule(days_held=20, hold_temp_c=4, dilution=5, place_temp_c=34), "a guess: the places of recovery on record were at 20.6 to 27 °C"),
    (Schedule(days_held=20, hold_temp_c=4, dilution=5, place_temp_c=28), ""),
])  # fmt: skip
def test_beyond_the_record_it_is_a_guess(all_jars: Learned, schedule: Schedule, words: str) -> None:
    assert forecast(schedule, learned=all_jars)["guess"].iloc[0] == words
