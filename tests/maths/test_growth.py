"""Growth models against differential equations (scipy, mpmath, R), calculus and distributions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import mpmath
import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from fallow.maths.growth import (
    awake_fraction,
    baranyi,
    baranyi_efolds_to_share,
    baranyi_history,
    baranyi_hours_to_share,
    dead_as_lag_efolds,
    gompertz,
    logistic,
    richards,
    three_phase,
    verhulst,
)
from fallow.maths.rates import GAENZLE_1998_YEAST

LN10 = np.log(10.0)
SHAPE = {"rise": 10.0, "rate_per_hour": 1.0, "lag_hours": 3.0}


def history_by_ode(mu: Callable[[float], float], hours: float, start: float, ceiling: float, work: float) -> float:
    """Integrate dQ/dt = mu Q and dN/dt = mu Q/(1+Q) (1 - N/Nmax) N, in logarithms."""

    def slope(t: float, y: list[float]) -> list[float]:
        log_q, log_n = y
        return [mu(t), mu(t) / (1 + np.exp(-log_q)) * (1 - np.exp(log_n - ceiling))]

    done = solve_ivp(slope, (0, hours), [-np.log(np.expm1(work)), start], method="LSODA", rtol=1e-11, atol=1e-12)
    return float(done.y[1, -1])


@pytest.mark.parametrize("hours", [0.5, 3.0, 9.0, 20.0, 30.0])
def test_baranyi_is_the_solution_of_its_differential_equation(hours: float) -> None:
    start, ceiling, rate, lag = 6 * LN10, 8 * LN10, 0.4, 3.0
    ode = history_by_ode(lambda _: rate, hours, start, ceiling, rate * lag)
    ours = baranyi(hours=hours, start=start, ceiling=ceiling, rate_per_hour=rate, lag_hours=lag)
    assert ours == pytest.approx(ode, abs=1e-8)


def test_baranyi_equals_the_published_form_with_its_adjustment_function() -> None:
    """Written out as printed in Baranyi & Roberts 1994, with A(t)."""
    t, mu, lag, start, ceiling = np.linspace(0, 40, 81), 0.4, 3.0, 13.8, 18.4
    h0 = mu * lag
    adjusted = t + np.log(np.exp(-mu * t) + np.exp(-h0) - np.exp(-mu * t - h0)) / mu
    printed = start + mu * adjusted - np.log1p(np.expm1(mu * adjusted) / np.exp(ceiling - start))
    ours = baranyi(hours=t, start=start, ceiling=ceiling, rate_per_hour=mu, lag_hours=lag)
    assert np.abs(ours - printed).max() < 1e-12


def test_any_history_against_mpmath() -> None:
    """The non-isothermal form: five hours that swing between 5 and 29 degC."""

    def temp(t: Any) -> Any:
        return 17 + 12 * mpmath.sin(t / 4)

    def mu(t: Any) -> Any:
        below = 36 - temp(t)
        return mpmath.mpf("0.0124") * below ** mpmath.mpf("2.981") * mpmath.exp(-mpmath.mpf("0.3355") * below)

    with mpmath.workdps(20):
        room = 5 * mpmath.log(10)
        solved = mpmath.odefun(
            lambda t, y: [mu(t) * y[0], mu(t) * y[0] / (1 + y[0]) * (1 - mpmath.exp(y[1] - room))],
            0,
            [1 / mpmath.expm1(1), mpmath.mpf(0)],
        )
        theirs = float(solved(5)[1])
    earned = quad(lambda t: GAENZLE_1998_YEAST.per_hour(temp_c=17 + 12 * np.sin(t / 4)), 0, 5, epsabs=1e-13)[0]
    ours = baranyi_history(earned_efolds=earned, start=0.0, ceiling=float(room), lag_efolds=1.0)
    assert ours == pytest.approx(theirs, abs=1e-9)


R_ODE = """
suppressMessages(library(deSolve))
cases <- read.csv(text = "{cases}")
for (i in seq_len(nrow(cases))) {{
  p <- cases[i, ]
  temp <- approxfun(c(0, 8, 20, 40), c(p$t0, p$t1, p$t2, p$t3), rule = 2)
  mu <- function(t) {{ x <- 36 - temp(t); if (x > 0) 0.0124 * x^2.981 * exp(-0.3355 * x) else 0 }}
  f <- function(t, y, p) list(c(mu(t), mu(t) / (1 + exp(-y[1])) * (1 - exp(y[2] - p$ceiling))))
  y <- c(-log(expm1(p$work)), p$start)
  for (leg in list(c(0, 8), c(8, 20), c(20, 40)))
    y <- lsoda(y, leg, f, p, rtol = 1e-11, atol = 1e-11, maxsteps = 50000)[2, -1]
  cat(sprintf("%.12f\\n", y[2] / log(10)))
}}
"""


def test_random_histories_against_r(run_r: Callable[[str], str]) -> None:
    """R's deSolve (lsoda), live, on random temperature histories; tolerance 1e-6 log10."""
    draw = np.random.default_rng(1994)
    temps = draw.uniform(4, 35, size=(12, 4))
    work, start = draw.uniform(0.1, 3, 12), draw.uniform(10, 14, 12)
    ceiling = start + draw.uniform(2, 8, 12)
    lines = ["t0,t1,t2,t3,work,start,ceiling"]
    lines += [",".join(repr(float(x)) for x in row) for row in np.column_stack([temps, work, start, ceiling])]
    theirs = [float(line) for line in run_r(R_ODE.format(cases="\n".join(lines))).split()]
    earned = [
        sum(
            quad(lambda t, row=row: GAENZLE_1998_YEAST.per_hour(temp_c=np.interp(t, [0, 8, 20, 40], row)), a, b)[0]
            for a, b in ((0, 8), (8, 20), (20, 40))
        )
        for row in temps
    ]
    ours = baranyi_history(earned_efolds=earned, start=start, ceiling=ceiling, lag_efolds=work) / LN10
    assert np.abs(ours - theirs).max() < 1e-6


@given(
    share=st.floats(0.01, 0.999),
    room=st.floats(5, 25),
    rate=st.floats(0.01, 2),
    lag=st.floats(0, 50),
)
def test_the_inverse_gives_the_share_back(share: float, room: float, rate: float, lag: float) -> None:
    hours = baranyi_hours_to_share(share=share, start=1, ceiling=1 + room, rate_per_hour=rate, lag_hours=lag)
    reached = baranyi(hours=hours, start=1, ceiling=1 + room, rate_per_hour=rate, lag_hours=lag)
    assert reached == pytest.approx(1 + room + np.log(share), abs=1e-9)


def test_a_share_already_there_takes_no_time() -> None:
    assert baranyi_hours_to_share(share=0.5, start=9.9, ceiling=10, rate_per_hour=0.4, lag_hours=3) == 0
    assert baranyi_efolds_to_share(share=0.5, start=9.9, ceiling=10, lag_efolds=2) == 0


def test_dead_cells_and_a_lag_are_one_number() -> None:
    """Derived: N(t) -> N0 exp(-h0) exp(mu t), so a share s alive equals a lag of ln(1/s) e-folds."""
    hidden = dead_as_lag_efolds(alive_fraction=0.05)
    lagging = baranyi_history(earned_efolds=12, start=0, ceiling=40, lag_efolds=hidden)
    few = baranyi_history(earned_efolds=12, start=np.log(0.05), ceiling=40, lag_efolds=0)
    assert lagging == pytest.approx(few, abs=2e-4)
    assert dead_as_lag_efolds(alive_fraction=awake_fraction(lag_efolds=1.2)) == pytest.approx(1.2)


def test_without_a_ceiling_the_lag_ends_at_a_fixed_growth() -> None:
    """P6: ln N/N0 at the lag is ln(2 - exp(-h0)) (identity)."""
    grown = baranyi(hours=3, start=0, ceiling=500, rate_per_hour=0.4, lag_hours=3)
    assert grown == pytest.approx(np.log(2 - np.exp(-1.2)), abs=1e-12)
    assert grown == pytest.approx(0.5299255, abs=1e-7)


BIG = st.floats(0, 1e308)


@given(hours=BIG, rate=BIG, lag=BIG, start=st.floats(-1e6, 1e6), ceiling=st.floats(-1e6, 1e6))
def test_baranyi_is_never_nan(hours: float, rate: float, lag: float, start: float, ceiling: float) -> None:
    value = baranyi(hours=hours, start=start, ceiling=ceiling, rate_per_hour=rate, lag_hours=lag)
    slack = 1e-9 * (1 + abs(start) + abs(ceiling))
    assert min(start, ceiling) - slack <= value <= max(start, ceiling) + slack


FINITE = st.floats(-1e308, 1e308)
ABOVE = st.floats(1e-300, 1e300)


@given(hours=FINITE, lag=FINITE, rise=ABOVE, rate=ABOVE, shape=st.floats(1e-6, 1e3))
def test_sigmoids_are_never_nan_and_stay_within_their_rise(
    hours: float, lag: float, rise: float, rate: float, shape: float
) -> None:
    given_ = {"hours": hours, "rise": rise, "rate_per_hour": rate, "lag_hours": lag}
    for value in (gompertz(**given_), logistic(**given_), richards(shape=shape, **given_)):
        assert 0 <= value <= rise


def test_sigmoids_stay_at_nothing_through_a_lag_near_the_largest_float() -> None:
    given_ = {"hours": 0.0, "rise": 1.0, "rate_per_hour": 1.0, "lag_hours": 1.7e308}
    assert (gompertz(**given_), logistic(**given_), richards(shape=1.0, **given_)) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("model", "steepest_hours", "height_there", "share_at_lag"),
    [
        (lambda t: gompertz(hours=t, **SHAPE), 6.678794, 3.678794, 0.065988),
        (lambda t: logistic(hours=t, **SHAPE), 8.0, 5.0, 0.119203),
        (lambda t: richards(hours=t, shape=0.5, **SHAPE), 7.444444, 4.444444, 0.095210),
        (lambda t: richards(hours=t, shape=2, **SHAPE), 8.773503, 5.773503, 0.155849),
    ],
    ids=["gompertz", "logistic", "richards 0.5", "richards 2"],
)
def test_zwietering_parameters_mean_what_they_say(
    model: Callable[[Any], Any], steepest_hours: float, height_there: float, share_at_lag: float
) -> None:
    """P1, P2: the steepest slope is mu, there, and its tangent cuts zero at the lag (slopes by differences)."""
    step = 1e-4
    grid = np.arange(0, 20, step)
    slope = np.gradient(model(grid), step)
    at = grid[slope.argmax()]
    assert at == pytest.approx(steepest_hours, abs=2 * step)
    assert model(steepest_hours) == pytest.approx(height_there, abs=2e-6)
    assert slope.max() == pytest.approx(SHAPE["rate_per_hour"], abs=1e-6)
    assert steepest_hours - height_there / slope.max() == pytest.approx(SHAPE["lag_hours"], abs=1e-5)
    assert model(3.0) / 10 == pytest.approx(share_at_lag, abs=1e-6)


def test_richards_holds_the_other_two() -> None:
    """P3: nu 1 is the logistic, nu towards 0 the Gompertz."""
    t = np.linspace(-5, 40, 451)
    assert np.abs(richards(hours=t, shape=1, **SHAPE) - logistic(hours=t, **SHAPE)).max() < 1e-12
    assert np.abs(richards(hours=t, shape=1e-6, **SHAPE) - gompertz(hours=t, **SHAPE)).max() < 1e-5


def test_sigmoids_against_scipys_distributions() -> None:
    """Identity: scipy's gumbel_r and logistic; scipy's own gompertz is another law."""
    t = np.linspace(-5, 40, 451)
    gumbel = scipy.stats.gumbel_r.cdf(t, loc=3 + 10 / np.e, scale=10 / np.e)
    assert np.abs(gompertz(hours=t, **SHAPE) - 10 * gumbel).max() < 1e-13
    assert np.abs(logistic(hours=t, **SHAPE) - 10 * scipy.stats.logistic.cdf(t, loc=8, scale=2.5)).max() < 1e-13


def test_verhulst_is_the_solution_of_its_differential_equation_and_baranyi_without_lag() -> None:
    t = np.linspace(0, 40, 41)
    ours = verhulst(hours=t, start_amount=1e6, ceiling_amount=1e8, rate_per_hour=0.4)
    ode = solve_ivp(lambda _, n: 0.4 * n * (1 - n / 1e8), (0, 40), [1e6], t_eval=t, rtol=1e-11, atol=1e-3).y[0]
    assert ours == pytest.approx(ode, rel=1e-8)
    no_lag = baranyi(hours=t, start=np.log(1e6), ceiling=np.log(1e8), rate_per_hour=0.4, lag_hours=0)
    assert np.log(ours) == pytest.approx(no_lag, abs=1e-12)


def test_three_phase_has_three_phases() -> None:
    line = {"start": 3.0, "ceiling": 8.0, "rate_per_hour": 0.2, "lag_hours": 3.0}
    assert three_phase(hours=[0, 3, 10, 28, 99], **line).tolist() == pytest.approx([3, 3, 4.4, 8, 8])


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: baranyi(hours=-1, start=1, ceiling=2, rate_per_hour=1, lag_hours=0),
            "hours is -1; it must be zero or more",
        ),
        (
            lambda: baranyi_hours_to_share(share=1, start=1, ceiling=2, rate_per_hour=1, lag_hours=0),
            "share is 1; it lies between 0 and 1",
        ),
        (
            lambda: baranyi_hours_to_share(share=0.5, start=3, ceiling=2, rate_per_hour=1, lag_hours=0),
            "start is 3, not below its ceiling",
        ),
        (lambda: dead_as_lag_efolds(alive_fraction=80), "alive_fraction is 80; it is at most 1"),
        (lambda: three_phase(hours=1, start=8, ceiling=3, rate_per_hour=1, lag_hours=0), "ceiling is 3 and start 8"),
        (lambda: gompertz(hours=1, rise=0, rate_per_hour=1, lag_hours=0), "rise is 0; it must be above zero"),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()
