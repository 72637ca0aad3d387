"""The two stories about the cold, what a jar owes on return under each, and how warm a place may be."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fallow.maths.cold import COLD_SCENARIOS, CREEP, STOP
from fallow.maths.debt import cold_doublings, owed_on_return
from fallow.maths.decay import BREWING_YEAST_PRIOR
from fallow.maths.defaults import DEFAULTS
from fallow.maths.ledger import earned_doublings, hours_to_ripe
from fallow.maths.profile import Profile
from fallow.maths.rates import GAENZLE_1998_LAB, GAENZLE_1998_YEAST
from fallow.maths.warmth import place_warning, refuse_hot_place

FRIDGE = Profile.through_places(start_c=24, places_c=[21, 4], hours=[3, 21 * 24], time_constant_hours=1.6)


def test_each_story_has_its_word_and_says_what_it_is() -> None:
    assert [str(cold) for cold in COLD_SCENARIOS] == ["creep", "stop"]
    assert "creeps on" in CREEP.says
    assert "stops" in STOP.says


def test_creep_is_the_published_curve_and_stop_ends_where_its_author_says() -> None:
    """Source of 8 and 4 degC: Gaenzle's own plain-language summary of model and dough trials."""
    assert CREEP.curve(GAENZLE_1998_YEAST) is GAENZLE_1998_YEAST
    for published, edge in ((GAENZLE_1998_YEAST, 8.0), (GAENZLE_1998_LAB, 4.0)):
        stop = STOP.curve(published)
        assert stop.per_hour(temp_c=np.array([-5.0, edge - 0.1, edge])).tolist() == [0, 0, 0]
        warm = np.array([edge + 0.1, 20.0, 30.0, 42.0])
        assert stop.per_hour(temp_c=warm).tolist() == published.per_hour(temp_c=warm).tolist()
        assert set(stop.breaks_c) > set(published.breaks_c)
        assert stop.extrapolated(temp_c=1.0) == published.extrapolated(temp_c=1.0)
        assert (stop.measured_c, stop.no_growth_below_c) == (published.measured_c, edge)


def test_a_fridge_of_four_degrees_does_not_sour_for_ever_when_growth_stops() -> None:
    """Newton's jar never quite arrives at 4 degC; that must not count as above 4."""
    jar = Profile.cooling(start_c=26, ambient_c=4, time_constant_hours=2, hours=5000)
    stop = STOP.curve(GAENZLE_1998_LAB)
    arrived = 2 * math.log(22 / 0.05)
    long, short = (
        earned_doublings(profile=history, curve=stop)
        for history in (jar, Profile.cooling(start_c=26, ambient_c=4, time_constant_hours=2, hours=arrived))
    )
    assert long == pytest.approx(short, abs=1e-6)


@pytest.mark.parametrize("published", [GAENZLE_1998_YEAST, GAENZLE_1998_LAB])
def test_stop_never_earns_more_nor_is_ripe_sooner(published: object) -> None:
    earned = [earned_doublings(profile=FRIDGE, curve=cold.curve(published)) for cold in COLD_SCENARIOS]  # type: ignore[arg-type]
    ripe = [
        hours_to_ripe(dilution=4, profile=FRIDGE, curve=cold.curve(published), ripening_doublings=1.4)  # type: ignore[arg-type]
        for cold in COLD_SCENARIOS
    ]
    assert earned[0] > earned[1]
    assert ripe[0] <= ripe[1]


def test_a_part_risen_jar_finishes_in_the_fridge_in_one_story_and_never_in_the_other() -> None:
    """Computed apart: within about a week at 4 to 7 degC if the curve is right, never if growth stops."""
    half_risen = Profile.through_places(start_c=24, places_c=[24, 5.5], hours=[3, 60 * 24], time_constant_hours=1.6)
    creep, stop = (
        hours_to_ripe(dilution=3, profile=half_risen, curve=cold.curve(GAENZLE_1998_YEAST), ripening_doublings=1.4)
        for cold in COLD_SCENARIOS
    )
    assert 1 < creep / 24 < 8
    assert stop == math.inf


def test_owed_on_return_names_its_two_parts() -> None:
    """By hand: (0.7 + 0.0121 * 6.2^0.3 * 21)/ln 2 for the cold; 3 - 1.2 * 0.5 for a jar chilled young."""
    for cold in COLD_SCENARIOS:
        owed = owed_on_return(dilution=8, earned_until_return=0.5, pace=1.2, days=21, hold_temp_c=4, cold=cold)
        assert owed.chilled_young_doublings == pytest.approx(3 - 0.6)
        assert owed.cold_doublings == pytest.approx((0.7 + 0.0121 * 6.2**0.3 * 21) / math.log(2))
        assert owed.doublings == pytest.approx(owed.chilled_young_doublings + owed.cold_doublings)
        assert (owed.cold, owed.label) == (cold, BREWING_YEAST_PRIOR.label)
    ripe = owed_on_return(dilution=8, earned_until_return=9, days=21, hold_temp_c=4, cold=CREEP)
    assert ripe.chilled_young_doublings == 0, "days past ripe in the cold add no debt beyond k (design law)"


def test_a_jar_chilled_young_owes_more_if_growth_stops() -> None:
    young = Profile.through_places(start_c=22, places_c=[22, 4], hours=[2, 28 * 24], time_constant_hours=1.6)
    owed = [
        owed_on_return(
            dilution=11,
            earned_until_return=earned_doublings(profile=young, curve=cold.curve(GAENZLE_1998_YEAST)),
            days=28,
            hold_temp_c=4,
            cold=cold,
        ).doublings
        for cold in COLD_SCENARIOS
    ]
    assert owed[0] < owed[1]


def test_cold_doublings_over_arrays_and_bad_input() -> None:
    taken = cold_doublings(days=np.array([4.0, 56.0]), temp_c=np.array([3.0, 7.0]))
    assert taken[0] < taken[1]
    with pytest.raises(ValueError, match="days is -1; it must be zero or more"):
        cold_doublings(days=-1, temp_c=4)
    with pytest.raises(ValueError, match=r"temp_c is 95; .*Fahrenheit"):
        cold_doublings(days=1, temp_c=95)


def test_how_warm_a_plan_may_be() -> None:
    assert [place_warning(temp_c=temp) == "" for temp in (4, 28, 28.1, 30)] == [True, True, False, False]
    assert refuse_hot_place(temp_c=30) == 30
    with pytest.raises(ValueError, match=r"temp_c is 30\.5 °C; a plan warms a jar to at most 30 °C"):
        refuse_hot_place(temp_c=30.5)
    with pytest.raises(ValueError, match=r"temp_c is 82.*Fahrenheit, write 27\.8"):
        place_warning(temp_c=82)


def test_the_defaults_of_the_design_are_one_labelled_object() -> None:
    """Fixed by the law's definition of the debt."""
    spreads = (DEFAULTS.ripening_doublings, DEFAULTS.lab_ripening_doublings, DEFAULTS.pace)
    assert [(spread.middle, spread.sd) for spread in spreads] == [(1.4, 0.35), (1.4, 0.7), (1.0, 0.12)]
    assert all("our choice" in spread.source for spread in (*spreads, DEFAULTS.place_offset_c, DEFAULTS.cold_step))
    assert (DEFAULTS.hottest_water_c, DEFAULTS.least_seed_divisions, DEFAULTS.transfer_loss_g) == (35, 10, 5)
    assert 1.645 * DEFAULTS.place_offset_c.sd == pytest.approx(1.0, abs=1e-3)
