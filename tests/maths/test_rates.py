"""Rates: 0 outside, never NaN, one hump; the closed optimum against a grid; what must be refused."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.maths.rates import (
    GAENZLE_1998_LAB,
    GAENZLE_1998_YEAST,
    PUBLISHED_CURVES,
    SALVADO_2011_YEAST,
    CardinalForm,
    PublishedCurve,
    TailForm,
    cardinal_general,
    cardinal_ph,
    cardinal_rate,
    q10_from_rates,
    ratkowsky_optimum_c,
    ratkowsky_rate,
    square_root_from_rates,
    square_root_rate,
)

ANY = st.floats(allow_nan=False, allow_infinity=False)
each_curve = pytest.mark.parametrize("curve", PUBLISHED_CURVES, ids=lambda curve: curve.name)


@each_curve
@given(temp_c=ANY)
def test_never_nan_never_negative_never_a_warning(curve: PublishedCurve, temp_c: float) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        rate = curve.per_hour(temp_c=temp_c)
    assert isinstance(rate, float)
    assert 0 <= rate <= curve.optimum_per_hour


@each_curve
def test_zero_from_the_highest_temperature_on(curve: PublishedCurve) -> None:
    hottest = curve.breaks_c[-1]
    assert curve.per_hour(temp_c=hottest) == 0
    assert curve.per_hour(temp_c=hottest + 40) == 0
    assert curve.per_hour(temp_c=np.nextafter(hottest, 0)) >= 0


@each_curve
def test_rises_below_the_optimum_and_falls_above(curve: PublishedCurve) -> None:
    below = curve.per_hour(temp_c=np.linspace(curve.no_growth_below_c, curve.optimum_c, 400))
    above = curve.per_hour(temp_c=np.linspace(curve.optimum_c, curve.breaks_c[-1], 400))
    assert np.all(np.diff(below) > 0)
    assert np.all(np.diff(above) < 0)


@each_curve
def test_arrays_keep_their_shape_and_floats_stay_floats(curve: PublishedCurve) -> None:
    temps = np.array([[4.0, 26.0, 50.0], [8.0, 30.0, -5.0]])
    rates = curve.per_hour(temp_c=temps)
    assert rates.shape == temps.shape
    assert rates[0, 1] == curve.per_hour(temp_c=26.0)
    assert curve.extrapolated(temp_c=temps).dtype == bool


def test_the_optima_lie_where_the_abstracts_say() -> None:
    """Acceptance bands of the two abstracts (Gaenzle 1998, Brandt 2004)."""
    assert 26 <= GAENZLE_1998_YEAST.optimum_c <= 28.5
    assert 31 <= GAENZLE_1998_LAB.optimum_c <= 33.5
    assert GAENZLE_1998_YEAST.per_hour(temp_c=35.0) < 0.2 * GAENZLE_1998_YEAST.optimum_per_hour
    assert SALVADO_2011_YEAST.optimum_c == pytest.approx(32.3, abs=1)


def test_outside_what_was_measured_it_says_so() -> None:
    assert GAENZLE_1998_YEAST.extrapolated(temp_c=4.0) is True
    assert GAENZLE_1998_YEAST.extrapolated(temp_c=26.0) is False
    assert GAENZLE_1998_LAB.extrapolated(temp_c=[3.9, 4.0, 41.0, 41.1]).tolist() == [True, False, False, True]


def test_lab_is_never_slower_than_the_yeast() -> None:
    """The ratio's minimum, 1.016 at 22.9 degC, is computed from the two published equations."""
    temps = np.linspace(0, 35.9, 3591)
    ratio = GAENZLE_1998_LAB.per_hour(temp_c=temps) / GAENZLE_1998_YEAST.per_hour(temp_c=temps)
    assert ratio.min() == pytest.approx(1.016, abs=5e-4)
    assert temps[ratio.argmin()] == pytest.approx(22.9, abs=0.05)


CARDINALS = st.tuples(st.floats(-5, 15), st.floats(0, 1), st.floats(5, 40)).map(
    lambda got: (got[0], got[0] + got[2] * (0.5 + 0.499 * got[1]), got[0] + got[2])
)


@given(cardinals=CARDINALS, share=st.floats(-0.5, 1.5))
def test_cardinal_rate_is_one_hump_of_the_stated_height(cardinals: tuple[float, float, float], share: float) -> None:
    low, best, high = cardinals
    temp_c = low + share * (high - low)
    rate = cardinal_rate(temp_c=temp_c, min_c=low, opt_c=best, max_c=high, opt_per_hour=0.5)
    assert 0 <= rate <= 0.5 * (1 + 1e-12)
    assert (rate > 0) == (low < temp_c < high) or min(abs(temp_c - low), abs(temp_c - high)) < 1e-6
    at_best = cardinal_rate(temp_c=best, min_c=low, opt_c=best, max_c=high, opt_per_hour=0.5)
    assert at_best == pytest.approx(0.5, rel=1e-12)


def test_cardinal_slopes_are_flat_at_the_optimum_and_at_the_low_end() -> None:
    """Rosso 1993: the derivative is 0 at Topt and at Tmin; the general form with n 2 and 1 is both models (S5)."""
    step = 1e-5
    for at in (30.0, 4.0):
        low, high = cardinal_rate(temp_c=[at - step, at + step], min_c=4, opt_c=30, max_c=40, opt_per_hour=1)
        assert (high - low) / (2 * step) == pytest.approx(0, abs=1e-6)
    grid = np.linspace(0, 45, 901)
    whole = cardinal_rate(temp_c=grid, min_c=4, opt_c=30, max_c=40, opt_per_hour=1)
    assert np.abs(cardinal_general(value=grid, low=4, best=30, high=40, power=2) - whole).max() < 1e-12
    acid = np.linspace(3, 8, 501)
    share = cardinal_ph(ph=acid, min_ph=3.9, opt_ph=5.25, max_ph=6.7)
    inside = (acid > 3.9) & (acid < 6.7)
    ends = (acid - 3.9) * (acid - 6.7)
    printed = np.where(inside, ends / (ends - (acid - 5.25) ** 2), 0)
    assert np.abs(share - printed).max() < 1e-12
    assert np.abs(cardinal_general(value=acid, low=3.9, best=5.25, high=6.7, power=1) - share).max() < 1e-12


def test_a_pole_inside_the_range_is_refused() -> None:
    """Tmin 10, Topt 20, Tmax 40 has a pole at 13.33 degC and -0.28 at 12 (computed)."""
    with pytest.raises(ValueError, match=r"opt_c is 20; for these ends the formula holds from 25 up"):
        cardinal_rate(temp_c=12, min_c=10, opt_c=20, max_c=40, opt_per_hour=1)
    with pytest.raises(ValueError, match=r"min_c, opt_c, max_c are 10, 5, 40; each must lie above"):
        cardinal_rate(temp_c=12, min_c=10, opt_c=5, max_c=40, opt_per_hour=1)
    exactly_in_the_middle = cardinal_rate(temp_c=[10.0, 15.0, 25.0], min_c=10, opt_c=25, max_c=40, opt_per_hour=1)
    assert exactly_in_the_middle == pytest.approx([0, 5 * 25 / 225, 1])


@given(low=st.floats(-10, 10), reach=st.floats(5, 60), hot_slope=st.floats(0.02, 3), slope=st.floats(0.001, 0.2))
def test_the_closed_optimum_is_the_top_of_a_grid(low: float, reach: float, hot_slope: float, slope: float) -> None:
    best = ratkowsky_optimum_c(min_c=low, hot_slope=hot_slope, max_c=low + reach)
    grid = np.linspace(low, low + reach, 4001)
    shape = {"slope": slope, "min_c": low, "hot_slope": hot_slope, "max_c": low + reach}
    rates = ratkowsky_rate(temp_c=grid, **shape)
    assert abs(grid[rates.argmax()] - best) <= 1.01 * reach / 4000
    assert ratkowsky_rate(temp_c=best, **shape) >= rates.max() * (1 - 1e-12)


def test_the_closed_optimum_does_not_overflow() -> None:
    assert ratkowsky_optimum_c(min_c=0, hot_slope=300, max_c=45) == pytest.approx(44.97, abs=0.01)


@given(temp_c=ANY)
def test_square_root_rates_are_never_nan(temp_c: float) -> None:
    assert square_root_rate(temp_c=min(temp_c, 1e100), slope=0.03, min_c=-2) >= 0
    assert ratkowsky_rate(temp_c=temp_c, slope=0.0377, min_c=3.29, hot_slope=0.247, max_c=43.7) >= 0


def test_a_line_through_two_rates_gives_them_back() -> None:
    slope, low = square_root_from_rates(cold_c=7, cold_per_hour=0.0042, warm_c=13, warm_per_hour=0.0498)
    assert square_root_rate(temp_c=[7, 13], slope=slope, min_c=low) == pytest.approx([0.0042, 0.0498], rel=1e-12)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: GAENZLE_1998_YEAST.per_hour(temp_c=float("nan")), "temp_c is nan; it must be a finite number"),
        (lambda: GAENZLE_1998_LAB.extrapolated(temp_c=float("inf")), "temp_c is inf"),
        (lambda: TailForm(a=0.1267, b=1.5404, c=0.1931, max_c=41).q10(temp_c=41), "reaches 41 °C, where growth stops"),
        (lambda: square_root_rate(temp_c=9, slope=0, min_c=4), "slope is 0; it must be above zero"),
        (
            lambda: square_root_from_rates(cold_c=13, cold_per_hour=1, warm_c=7, warm_per_hour=2),
            "the warmer must be the faster",
        ),
        (lambda: ratkowsky_optimum_c(min_c=40, hot_slope=0.2, max_c=4), "max_c is 4 and min_c 40"),
        (lambda: q10_from_rates(cold_c=4, cold_per_hour=1, warm_c=4, warm_per_hour=2), "are both 4; two temperatures"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(call: object, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()  # type: ignore[operator]


def test_temperature_and_ph_multiply() -> None:
    """The gamma concept (Zwietering et al. 1992): 20 degC of 4.5/32.5/41 times pH 4.5 of 3.9/5.25/6.7 is 0.33648."""
    warm = cardinal_rate(temp_c=20, min_c=4.5, opt_c=32.5, max_c=41, opt_per_hour=1)
    assert warm * cardinal_ph(ph=4.5, min_ph=3.9, opt_ph=5.25, max_ph=6.7) == pytest.approx(0.33648, abs=5e-6)


def test_two_lines_through_published_cold_rates_agree() -> None:
    """L. plantarum, pH 6 and pH 7 pairs: Tmin 4.54 and 4.78 degC, inside the 3.4 to 8.3 read for 20 strains."""
    lows = [
        square_root_from_rates(cold_c=7, cold_per_hour=cold, warm_c=13, warm_per_hour=warm)[1]
        for cold, warm in ((0.0042, 0.0498), (0.0040, 0.0549))
    ]
    assert lows == pytest.approx([4.54, 4.78], abs=0.005)
    assert all(3.4 < low < 8.3 for low in lows)


@pytest.mark.parametrize(
    ("temp_c", "yeast_hours", "lab_hours"),
    [(2, 136.8, 36.1), (4, 83.8, 26.6), (8, 32.6, 14.7), (15, 7.34, 5.48), (24, 1.90, 1.85), (28, 1.66, 1.30)],
)
def test_doubling_times_as_tabled_for_bakers(temp_c: float, yeast_hours: float, lab_hours: float) -> None:
    """Computed elsewhere from the two equations, three figures."""
    doubling = [np.log(2) / curve.per_hour(temp_c=temp_c) for curve in (GAENZLE_1998_YEAST, GAENZLE_1998_LAB)]
    assert doubling == pytest.approx([yeast_hours, lab_hours], rel=4e-3)


def test_a_cardinal_curve_is_checked_when_it_is_made() -> None:
    with pytest.raises(ValueError, match="opt_c is 20"):
        CardinalForm(min_c=10, opt_c=20, max_c=40, opt_per_hour=1)
    grid = np.linspace(-10, 60, 141)
    whole = cardinal_rate(temp_c=grid, min_c=0.74, opt_c=32.8, max_c=45.9, opt_per_hour=0.449)
    assert np.array_equal(SALVADO_2011_YEAST.per_hour(temp_c=grid), whole)
