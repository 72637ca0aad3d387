"""Temperature histories: between points, along Newton's law, joined, and what is no history."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from fallow.maths.pieces import newton
from fallow.maths.profile import Profile

KITCHEN_C = st.floats(-5, 45)


@st.composite
def histories(draw: st.DrawFn) -> Profile:
    """Return a history of straight lines, jumps and Newton pieces."""
    steps = draw(st.lists(st.tuples(st.floats(0.01, 40), KITCHEN_C), min_size=1, max_size=5))
    hours = np.concatenate([[0.0], np.cumsum([step for step, _ in steps])])
    first = Profile(hours=hours, temp_c=[draw(KITCHEN_C), *(temp for _, temp in steps)])
    places = draw(st.lists(st.tuples(KITCHEN_C, st.floats(0.01, 200)), min_size=1, max_size=3))
    moved = Profile.through_places(
        start_c=draw(KITCHEN_C),
        places_c=[place for place, _ in places],
        hours=[stay for _, stay in places],
        time_constant_hours=draw(st.floats(0.2, 5)),
    )
    return first.then(moved)


def test_straight_between_points_as_numpy_has_it() -> None:
    hours, temps = [0, 3, 13, 14.5], [24, 4, 4, 28]
    asked = np.linspace(0, 14.5, 1001)
    found = Profile(hours=hours, temp_c=temps).temp_c(hours=asked)
    np.testing.assert_allclose(found, np.interp(asked, hours, temps), atol=1e-12)


def test_newton_against_its_own_equation() -> None:
    """Oracle: scipy's integration of dT/dt = -(T - place)/time constant."""
    places, stays, constant = [21.0, 4.0, 28.0], [3.0, 20.0, 8.0], 1.7
    jar = Profile.through_places(start_c=12, places_c=places, hours=stays, time_constant_hours=constant)
    start, begun = 12.0, 0.0
    for place, stay in zip(places, stays, strict=True):
        asked = np.linspace(0, stay, 50)
        ode = solve_ivp(
            lambda _, temp, place=place: -(temp - place) / constant,
            (0, stay),
            [start],
            t_eval=asked,
            rtol=1e-11,
            atol=1e-11,
        ).y[0]
        np.testing.assert_allclose(jar.temp_c(hours=begun + asked[:-1]), ode[:-1], atol=1e-8)
        start, begun = ode[-1], begun + stay


def test_a_plain_hour_gives_a_plain_float_and_an_array_keeps_its_shape() -> None:
    jar = Profile.constant(temp_c=26, hours=8)
    assert isinstance(jar.temp_c(hours=3), float)
    assert jar.temp_c(hours=np.zeros((2, 3))).shape == (2, 3)


def test_an_hour_given_twice_is_a_jump() -> None:
    moved = Profile(hours=[0, 3, 3, 13], temp_c=[24, 24, 4, 4])
    joined = Profile.constant(temp_c=24, hours=3).then(Profile.constant(temp_c=4, hours=10))
    asked = [0, 2.999, 3, 3.001, 13]
    assert moved.temp_c(hours=asked).tolist() == joined.temp_c(hours=asked).tolist() == [24, 24, 4, 4, 4]


def test_no_time_at_all_is_a_history_too() -> None:
    nothing = Profile.constant(temp_c=20, hours=0)
    assert nothing.total_hours == 0
    assert nothing.temp_c(hours=0) == 20
    assert nothing.then(Profile.constant(temp_c=4, hours=5)).total_hours == 5


@given(history=histories(), share=st.floats(0, 1))
def test_range_holds_every_temperature_before(history: Profile, share: float) -> None:
    until = history.total_hours * share
    low, high = history.range_c(until_hours=until)
    seen = history.temp_c(hours=np.linspace(0, until, 200))
    # At a jump the range may also hold the temperature just left; it never misses one that was.
    assert low - 1e-9 <= seen.min()
    assert seen.max() <= high + 1e-9


@given(start=KITCHEN_C, place=KITCHEN_C, constant=st.floats(0.1, 10), share=st.floats(0.01, 0.99))
def test_the_hour_of_a_temperature_inverts_the_piece(start: float, place: float, constant: float, share: float) -> None:
    piece = newton(start_c=start, ambient_c=place, time_constant_hours=constant, hours=6 * constant)
    if abs(start - place) < 0.01:
        return
    hour = 6 * constant * share
    assert piece.hours_at(temp_c=piece.temp_c(hours=hour)) == pytest.approx(hour, rel=1e-6)
    assert math.isnan(piece.hours_at(temp_c=np.array(place - (start - place)))), "beyond the place: never passed"


@pytest.mark.parametrize(
    ("hours", "temp_c", "said"),
    [
        ([0, 3, 2], [24, 4, 4], "hours goes from 3 back to 2; time runs forwards"),
        ([1, 3], [24, 4], "hours starts at 1; a profile starts at hour 0, the mix"),
        ([0], [24], "hours has 1 points and temp_c 1; a profile needs two or more"),
        ([0, 3, 5], [24, 4], "hours has 3 points and temp_c 2"),
        ([0, math.nan], [24, 4], "hours is nan; it must be a finite number"),
        ([0, 3], [24, math.nan], "temp_c is nan; it must be a finite number"),
        ([0, 3], [75, 75], "temp_c is 75; a kitchen has -30 to 60 °C. If this was Fahrenheit, write 23.9 °C"),
        ([0, 3, 3, 3, 5], [24, 24, 9, 4, 4], "hours has 3 three times"),
        ([0, 1e9], [24, 4], "hours is 1e\\+09; a history has at most"),
        ([0, "x"], [24, 4], "hours is .* must be a number"),
    ],
)
def test_what_is_no_history(hours: list[float], temp_c: list[float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Profile(hours=hours, temp_c=temp_c)


def test_other_refusals() -> None:
    jar = Profile.constant(temp_c=26, hours=8)
    for outside in (-1, 8.5):
        with pytest.raises(ValueError, match=f"hours is {outside:g}; the profile runs from 0 to 8 h"):
            jar.temp_c(hours=outside)
    with pytest.raises(ValueError, match="time_constant_hours is 0; it must be above zero"):
        Profile.cooling(start_c=26, ambient_c=4, time_constant_hours=0, hours=5)
    with pytest.raises(ValueError, match="hours is -5; it must be zero or more"):
        Profile.cooling(start_c=26, ambient_c=4, time_constant_hours=1, hours=-5)
    with pytest.raises(ValueError, match="places_c has 2 entries and hours 1"):
        Profile.through_places(start_c=20, places_c=[21, 4], hours=[3], time_constant_hours=1)
