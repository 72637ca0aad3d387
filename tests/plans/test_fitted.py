"""A culture as its record's fit has it: the plan's hours of ripe are as sure as the fit's joint draws, no more and no less."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fallow.maths.draws import interval
from fallow.plans.bring_back import bring_back
from fallow.plans.draws import Culture, drawn
from fallow.plans.fitted import fitted_culture, rise_ratio
from fallow.records.experiment import Experiment
from fallow.stats.cold import fit_cold

# What the yeast earns in an hour at 24 °C or so: it only turns doublings into hours.
PER_HOUR = 0.4
NEAR_HOURS = 0.3
NAMES = ("fulmar", "kittiwake", "razorbill")


@pytest.fixture(scope="module")
def fit(root: Path):
    """The fit of the invented trial."""
    return fit_cold(Experiment.open(root / "experiments" / "harbour-rota"))


def ripe_hours(pace, ripening, *, dilution: float) -> np.ndarray:
    """Return low, middle and high of the hours until a feed in form is ripe: (log2 D + c) / (pace * rate)."""
    return np.array(interval((np.log2(dilution) + ripening) / (pace * PER_HOUR)))


@pytest.mark.parametrize("dilution", [3.0, 6.0, 20.0, 60.0])
@pytest.mark.parametrize("name", NAMES)
def test_hours_of_ripe_are_as_sure_as_the_fit_s_joint_draws(fit, name, dilution):
    together = fit.believed[name]
    some = draws(fitted_culture(fit, culture=name))
    joint = ripe_hours(together.pace, together.ripening, dilution=dilution)
    ours = ripe_hours(some.pace, some.ripening, dilution=dilution)
    assert np.abs(ours - joint).max() <= NEAR_HOURS
    apart = draws(replace(fitted_culture(fit, culture=name), pace_ripening_correlation=0.0))
    alone = ripe_hours(apart.pace, apart.ripening, dilution=dilution)
    assert np.abs(alone - joint).max() > 3 * NEAR_HOURS


@pytest.mark.parametrize("name", NAMES)
def test_draws_move_together_as_the_fit_s_do_and_keep_each_spread(fit, name):
    culture, together = fitted_culture(fit, culture=name), fit.believed[name]
    some = draws(culture)
    found = np.corrcoef(np.log(some.pace), some.ripening)[0, 1]
    assert found == pytest.approx(np.corrcoef(np.log(together.pace), together.ripening)[0, 1], abs=0.01)
    assert found > 0.9
    assert some.pace.std() == pytest.approx(culture.pace.sd, rel=0.02)
    assert some.ripening.std() == pytest.approx(culture.ripening_doublings.sd, rel=0.02)
    assert abs(np.corrcoef(some.lab_pace, some.ripening)[0, 1]) < 0.02


def test_a_culture_nobody_measured_is_drawn_apart():
    some = draws(Culture())
    assert abs(np.corrcoef(np.log(some.pace), some.ripening)[0, 1]) < 0.02


def test_a_plan_s_interval_is_narrower_with_the_fit_s_own_correlation(fit):
    culture = fitted_culture(fit, culture="fulmar")
    wish = {
        "home_at": "2026-05-15T19:00+02:00",
        "mix_at": "2026-05-17T09:00+02:00",
        "places": {"kitchen": 22, "warm box": 28},
        "owed": 0.0,
    }
    widths = []
    for one in (culture, replace(culture, pace_ripening_correlation=0.0)):
        last = bring_back(**wish, culture=one).feeds.iloc[-1]
        widths.append(last["ripe_high"] - last["ripe_low"])
    assert widths[0] < 0.75 * widths[1]


def test_a_culture_the_fit_cannot_tell_is_refused(fit):
    with pytest.raises(ValueError, match="culture is 'heron'; the fit tells no pace"):
        fitted_culture(fit, culture="heron")
    assert rise_ratio(fit, culture="heron") == Culture().rise_ratio
    assert rise_ratio(fit, culture="fulmar") == pytest.approx(
        1 + fit.cultures.set_index("culture")["rise_fraction"]["fulmar"]
    )


def draws(culture: Culture):
    """Return what a plan draws for a culture in form."""
    return drawn(culture=culture, owed_mean=0.0, owed_sd=0.0, offsets=2, offset_sd_c=0.6, size=2048, seed=1)
