"""Loss in the cold: identities, the differential equation, the prior's two rates and its label."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from fallow.maths.decay import (
    BREWING_YEAST_PRIOR,
    first_order_surviving_fraction,
    half_life_days,
    rate_from_loss,
    tenfold_days,
    weibull_log10_loss,
)


@given(delta=st.floats(0.01, 1e4), shape=st.floats(0.05, 20))
def test_one_power_of_ten_is_lost_at_delta_whatever_the_shape(delta: float, shape: float) -> None:
    """D4 (Mafart 2002, identity)."""
    assert weibull_log10_loss(days=delta, delta_days=delta, shape=shape) == 1


def test_shape_one_is_first_order() -> None:
    days = np.linspace(0, 400, 81)
    survivors = 10 ** -weibull_log10_loss(days=days, delta_days=92, shape=1)
    assert survivors == pytest.approx(first_order_surviving_fraction(days=days, per_day=np.log(10) / 92), rel=1e-12)


def test_first_order_is_the_solution_of_its_differential_equation() -> None:
    days = np.linspace(0, 90, 10)
    ode = solve_ivp(lambda _, n: -0.02514 * n, (0, 90), [1.0], t_eval=days, rtol=1e-11, atol=1e-13).y[0]
    assert first_order_surviving_fraction(days=days, per_day=0.02514) == pytest.approx(ode, rel=1e-9)


@given(days=st.floats(0, 1e308), delta=st.floats(1e-300, 1e300), shape=st.floats(1e-3, 1e3), rate=st.floats(0, 1e308))
def test_never_nan(days: float, delta: float, shape: float, rate: float) -> None:
    assert weibull_log10_loss(days=days, delta_days=delta, shape=shape) >= 0
    assert 0 <= first_order_surviving_fraction(days=days, per_day=rate) <= 1


@given(lost=st.floats(0.001, 0.999), days=st.floats(0.1, 1e3))
def test_a_rate_gives_its_loss_back(lost: float, days: float) -> None:
    rate = rate_from_loss(lost_fraction=lost, days=days)
    assert 1 - first_order_surviving_fraction(days=days, per_day=rate) == pytest.approx(lost, rel=1e-9)
    assert first_order_surviving_fraction(days=half_life_days(per_day=rate), per_day=rate) == pytest.approx(0.5)
    assert first_order_surviving_fraction(days=tenfold_days(per_day=rate), per_day=rate) == pytest.approx(0.1)


def test_the_prior_gives_back_both_rates_it_rests_on() -> None:
    """McCaig & Bendiak 1985: 7 % at 1 degC and 14 % at 5 degC in 6 days; Q10 6.2 is rounded, so 1 % of the rate."""
    for temp_c, lost in ((1.0, 0.07), (5.0, 0.14)):
        measured = rate_from_loss(lost_fraction=lost, days=6)
        assert BREWING_YEAST_PRIOR.per_day(temp_c=temp_c) == pytest.approx(measured, rel=0.01)


def test_the_prior_says_whose_it_is_and_where_it_ends() -> None:
    assert "brewing yeast" in BREWING_YEAST_PRIOR.label
    assert BREWING_YEAST_PRIOR.extrapolated(days=6, temp_c=4) is False
    assert BREWING_YEAST_PRIOR.extrapolated(days=21, temp_c=4) is True
    assert BREWING_YEAST_PRIOR.extrapolated(days=5, temp_c=[0, 3, 7]).tolist() == [True, False, True]


def test_survivors_and_owed_doublings_are_one_statement() -> None:
    days, temp_c = np.array([[4.0], [56.0]]), np.array([1.0, 4.0, 7.0])
    alive = BREWING_YEAST_PRIOR.surviving_fraction(days=days, temp_c=temp_c)
    owed = BREWING_YEAST_PRIOR.lost_doublings(days=days, temp_c=temp_c)
    assert owed == pytest.approx(-np.log2(alive), rel=1e-12)
    assert np.all(np.diff(owed, axis=1) > 0)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: rate_from_loss(lost_fraction=14, days=6), "lost_fraction is 14; it is below 1. Write 14 % as 0.14"),
        (lambda: weibull_log10_loss(days=-1, delta_days=9, shape=1), "days is -1; it must be zero or more"),
        (lambda: weibull_log10_loss(days=1, delta_days=0, shape=1), "delta_days is 0; it must be above zero"),
        (lambda: first_order_surviving_fraction(days=1, per_day=float("nan")), "per_day is nan"),
    ],
)
def test_what_cannot_be_is_refused(call: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()
