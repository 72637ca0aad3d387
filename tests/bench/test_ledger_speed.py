"""How fast the law runs, as ratios in one run: printed, never asserted. Answers are asserted, times are not."""

from __future__ import annotations

import math
from collections.abc import Callable
from time import perf_counter

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from scipy.integrate import solve_ivp

from fallow.maths.arguments import Array
from fallow.maths.cold import CREEP
from fallow.maths.draws import culture_draws
from fallow.maths.forecast import sour_band, sour_forecast, yeast_band, yeast_forecast
from fallow.maths.ledger import hours_to_ripe, running_doublings
from fallow.maths.profile import Profile
from fallow.maths.rates import GAENZLE_1998_LAB, GAENZLE_1998_YEAST

COUNT, ONE_BY_ONE = 10_000, 40
HOLIDAY = Profile.through_places(start_c=18, places_c=[22, 4, 28], hours=[3, 720, 24], time_constant_hours=1.5)
# Most draws are ripe only in the warm box, so that every one has to cross the whole month.
DRAWS = culture_draws(count=COUNT, seed=11, owed_doublings=8.0)
SLIDER = culture_draws(count=200, seed=11, owed_doublings=1.6)

Say = Callable[[str], None]


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str]) -> Say:
    """Print past pytest's capture: a ratio nobody sees is none."""

    def past_the_capture(line: str) -> None:
        with capsys.disabled():
            print(f"\n{line}")

    return past_the_capture


def ours(offset_c: Array | float) -> Array:
    return np.asarray(
        hours_to_ripe(
            dilution=11,
            profile=HOLIDAY,
            curve=GAENZLE_1998_YEAST,
            ripening_doublings=DRAWS.ripening_doublings,
            owed_doublings=DRAWS.owed_doublings,
            pace=DRAWS.pace,
            offset_c=offset_c,
        )
    )


def lean_temp_c(hour: float) -> float:
    """Return the holiday's temperature in plain Python, so that the solver is not slowed by our own checks."""
    in_fridge = 22 - 4 * math.exp(-3 / 1.5)
    if hour < 3:
        return 22 - 4 * math.exp(-hour / 1.5)
    if hour < 723:
        return 4 + (in_fridge - 4) * math.exp(-(hour - 3) / 1.5)
    return 28 - 24 * math.exp(-(hour - 723) / 1.5)


def lean_rate(temp_c: float) -> float:
    """Return the yeast's rate from its four published numbers (Gaenzle, Ehmann & Hammes 1998)."""
    below = 36 - temp_c
    return 0.0124 * below**2.981 * math.exp(-0.3355 * below) if below > 0 else 0.0


def by_solver(draw: int, offset_c: float) -> float:
    """Solve d earned / dt from the mix until enough, in one scipy solve_ivp with an event, accurate to 0.01 h."""
    need = math.log2(11) + DRAWS.owed_doublings[draw] + DRAWS.ripening_doublings[draw]
    pace = float(DRAWS.pace[draw])

    def grown(hour: float, _: Array) -> list[float]:
        return [pace * lean_rate(lean_temp_c(hour) + offset_c) / math.log(2)]

    def enough(_: float, earned: Array) -> float:
        return float(earned[0] - need)

    enough.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(grown, (0, HOLIDAY.total_hours), [0.0], events=enough, rtol=1e-6, atol=1e-8, max_step=12.0)
    return float(solved.t_events[0][0]) if solved.t_events[0].size else math.inf


@pytest.mark.parametrize("spread", [0.0, 1.0], ids=["one temperature", "an offset a draw"])
def test_ten_thousand_draws_through_a_month(benchmark: BenchmarkFixture, say: Say, spread: float) -> None:
    offset_c = DRAWS.offset_c * spread if spread else 0.0
    offsets = np.broadcast_to(offset_c, COUNT)
    found = benchmark(ours, offset_c)
    started = perf_counter()
    solved = np.array([by_solver(draw, float(offsets[draw])) for draw in range(ONE_BY_ONE)])
    one = (perf_counter() - started) / ONE_BY_ONE
    assert np.array_equal(np.isinf(found[:ONE_BY_ONE]), np.isinf(solved))
    ripe = np.isfinite(solved)
    worst = float(np.abs(found[:ONE_BY_ONE][ripe] - solved[ripe]).max())
    assert worst <= 0.01
    ratio = one * COUNT / benchmark.stats.stats.median
    benchmark.extra_info.update(ratio_to_one_solve_ivp_per_draw=round(ratio), worst_hours=worst)
    say(
        f"{COUNT} draws: {benchmark.stats.stats.median * 1e3:.1f} ms, {ratio:.0f} times as fast as one solve_ivp "
        f"a draw ({one * 1e3:.1f} ms each), worst difference {worst:.1e} h over {int(ripe.sum())} draws"
    )


def one_slider() -> list[object]:
    """Both clocks: the running total at 400 points, and ripe for 200 draws, each with its own place temperature."""
    hours = np.linspace(0, HOLIDAY.total_hours, 400)
    results: list[object] = []
    for curve, forecast in ((GAENZLE_1998_YEAST, yeast_forecast), (GAENZLE_1998_LAB, sour_forecast)):
        results.append(running_doublings(hours=hours, profile=HOLIDAY, curve=curve))
        results.append(forecast(dilution=6, profile=HOLIDAY, draws=SLIDER, cold=CREEP))
    return results


def test_one_slider(benchmark: BenchmarkFixture, say: Say) -> None:
    assert len(benchmark(one_slider)) == 4
    say(f"one slider: {benchmark.stats.stats.median * 1e3:.1f} ms")


@pytest.mark.parametrize("points", [60, 400])
def test_bands_of_both_clocks(benchmark: BenchmarkFixture, say: Say, points: int) -> None:
    hours = np.linspace(0, HOLIDAY.total_hours, points)
    seen = benchmark(
        lambda: [band(hours=hours, profile=HOLIDAY, draws=SLIDER, cold=CREEP) for band in (yeast_band, sour_band)]
    )
    assert all(len(band.doublings) == points for band in seen)
    say(f"bands of both clocks at {points} points: {benchmark.stats.stats.median * 1e3:.1f} ms")
