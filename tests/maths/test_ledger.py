"""The law against scipy's quadrature and differential equations, published tables, and its own identities."""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from fallow.maths.arguments import Array
from fallow.maths.cold import STOP
from fallow.maths.cuts import Curve
from fallow.maths.ledger import (
    earned_doublings,
    hours_to_ripe,
    owed_after,
    ripe_fraction,
    running_doublings,
)
from fallow.maths.logged import read_log
from fallow.maths.profile import Profile
from fallow.maths.rates import GAENZLE_1998_LAB, GAENZLE_1998_YEAST, SALVADO_2011_YEAST, square_root_rate

LN2 = math.log(2)
KITCHEN_C = st.floats(-2, 44)


class Plain:
    """The yeast's curve as any object might give it: nothing but rates, no word about breaks."""

    def per_hour(self, *, temp_c: Array) -> Array:
        return np.asarray(GAENZLE_1998_YEAST.per_hour(temp_c=temp_c))


class Stairs:
    """A curve of jumps and kinks that says nothing about them."""

    def per_hour(self, *, temp_c: Array) -> Array:
        temp = np.asarray(temp_c)
        return np.where(temp < 6.3, 0.0, np.where(temp < 17.7, 0.11, 0.11 + 0.03 * np.abs(temp - 21.0)))


class ToldStairs(Stairs):
    """The same, its breaks told."""

    breaks_c = (6.3, 17.7, 21.0)


CURVES: dict[str, Curve] = {
    "yeast": GAENZLE_1998_YEAST,
    "lab": GAENZLE_1998_LAB,
    "baker's yeast": SALVADO_2011_YEAST,
    "yeast, stop": STOP.curve(GAENZLE_1998_YEAST),
    "lab, stop": STOP.curve(GAENZLE_1998_LAB),
    "plain": Plain(),
    "stairs": Stairs(),
    "told stairs": ToldStairs(),
}
each_curve = pytest.mark.parametrize("name", CURVES)


def holiday() -> Profile:
    """Return a mix from cold seed, a kitchen, a month in a fridge that drifts, a warm box."""
    kept = Profile.through_places(start_c=15, places_c=[22, 4], hours=[4, 300], time_constant_hours=1.6)
    drifting = Profile(hours=[0, 100, 250, 260, 420], temp_c=[4, 6.9, 3, 9.5, 4])
    return kept.then(drifting).then(Profile.cooling(start_c=4, ambient_c=28, time_constant_hours=1.1, hours=20))


def by_quad(profile: Profile, curve: Curve, until: float, breaks: tuple[float, ...]) -> float:
    """Integrate piece by piece with scipy's QUADPACK, told where temperatures cross the breaks (found by bisection)."""
    total = 0.0
    for start, piece in zip(profile.starts_hours, profile.pieces, strict=True):
        stay = min(piece.hours, until - start)
        if stay <= 0:
            continue
        grid = np.unique(np.concatenate([np.linspace(0, stay, 400), np.geomspace(1e-3, 1, 200) * stay]))
        temps = piece.temp_c(hours=grid)
        marks = [0.0, stay]
        for edge in breaks:
            for at in np.flatnonzero(np.diff(np.sign(temps - edge))):
                low, high = grid[at], grid[at + 1]
                for _ in range(60):
                    middle = (low + high) / 2
                    same = np.sign(piece.temp_c(hours=middle) - edge) == np.sign(temps[at] - edge)
                    low, high = (middle, high) if same else (low, middle)
                marks.append(float(low))
        marks += list(np.geomspace(1e-2, 1, 12) * stay)
        for a, b in itertools.pairwise(sorted(set(marks))):
            total += quad(
                lambda t, p=piece: float(curve.per_hour(temp_c=p.temp_c(hours=t))),
                a,
                b,
                epsabs=1e-12,
                epsrel=1e-12,
                limit=200,
            )[0]
    return total / LN2


@each_curve
def test_against_quadpack_to_a_millionth_of_a_doubling(name: str) -> None:
    curve = CURVES[name]
    breaks = tuple(getattr(curve, "breaks_c", ())) or ToldStairs.breaks_c
    for until in (0.7, 3.9, 17.0, 304.0, 555.5, holiday().total_hours):
        found = running_doublings(hours=until, profile=holiday(), curve=curve)
        assert found == pytest.approx(by_quad(holiday(), curve, until, breaks), abs=1e-6)


@each_curve
@settings(max_examples=15)
@given(
    start=KITCHEN_C,
    places=st.lists(KITCHEN_C, min_size=1, max_size=3),
    stay=st.floats(0.1, 90),
    constant=st.floats(0.3, 4),
    offset=st.floats(-3, 3),
)
def test_random_histories_against_quadpack(
    name: str, start: float, places: list[float], stay: float, constant: float, offset: float
) -> None:
    jar = Profile.through_places(
        start_c=start, places_c=places, hours=[stay] * len(places), time_constant_hours=constant
    ).then(Profile(hours=[0, stay], temp_c=[places[-1], start]))
    curve = CURVES[name]

    class Shifted:
        def per_hour(self, *, temp_c: Array) -> Array:
            return np.asarray(curve.per_hour(temp_c=temp_c + offset))

    breaks = tuple(getattr(curve, "breaks_c", ())) or ToldStairs.breaks_c
    expected = by_quad(jar, Shifted(), jar.total_hours, tuple(edge - offset for edge in breaks))
    assert earned_doublings(profile=jar, curve=curve, offset_c=offset) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("name", ["yeast", "lab", "baker's yeast", "plain"])
def test_hours_to_ripe_against_a_differential_equation(name: str) -> None:
    """Oracle: scipy's LSODA on d earned / dt with an event where enough is earned."""
    curve, jar = CURVES[name], holiday()
    bounds = [*jar.starts_hours, jar.total_hours]
    for need in (0.4, 2.5, 6.0, 11.0):
        found = hours_to_ripe(dilution=2**need, profile=jar, curve=curve, ripening_doublings=0.0)
        earned, expected = 0.0, math.inf
        for piece, begun, ended in zip(jar.pieces, bounds[:-1], bounds[1:], strict=True):

            def enough(_: float, y: Array, need: float = need) -> float:
                return float(y[0] - need)

            enough.terminal = True  # type: ignore[attr-defined]
            ode = solve_ivp(
                lambda t, _, piece=piece: [float(curve.per_hour(temp_c=piece.temp_c(hours=t))) / LN2],
                (0, ended - begun),
                [earned],
                method="LSODA",
                events=enough,
                rtol=1e-10,
                atol=1e-12,
            )
            earned = ode.y[0, -1]
            if ode.t_events[0].size:
                expected = begun + float(ode.t_events[0][0])
                break
        assert found == pytest.approx(expected, abs=1e-4)


def test_the_cool_down_table(reference: Callable[[str], dict[str, Any]]) -> None:
    table = reference("cool_down_doublings.json")
    for row in table["rows"]:
        jar = Profile.cooling(start_c=26, ambient_c=4, hours=24, **row["in"])
        for clock, curve in (("yeast", GAENZLE_1998_YEAST), ("lab", GAENZLE_1998_LAB)):
            earned = earned_doublings(profile=jar, curve=curve)
            warm_hours = earned * LN2 / curve.per_hour(temp_c=26)
            assert earned == pytest.approx(row["out"][clock], abs=table["tolerance"]["abs"])
            assert warm_hours == pytest.approx(row["out"][f"{clock}_hours_at_26"], abs=table["tolerance"]["abs"])


def test_a_logged_fridge(reference: Callable[[str], dict[str, Any]], shared_data: Callable[[str], Path]) -> None:
    """Published integral, then the exact Baranyi form for any history: E = 1 + exp(-h0) (exp(M) - 1)."""
    with shared_data("refrigeratorSpain.csv").open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    fridge = read_log(hours=[r["time"] for r in rows], temp_c=[r["A1"] for r in rows], longest_gap_hours=1).profile()
    integral, counts = reference("logged_fridge.json")["rows"]

    class SquareRoot:
        def per_hour(self, *, temp_c: Array) -> Array:
            return np.asarray(square_root_rate(temp_c=temp_c, **integral["in"]))

    grown = earned_doublings(profile=fridge, curve=SquareRoot()) * LN2
    assert grown == pytest.approx(integral["out"], abs=1e-6)
    given_ = counts["in"]
    risen = 1 + math.exp(-given_["h0"]) * math.expm1(grown)
    ceiling = 10.0 ** given_["log10_ceiling"]
    cells = ceiling * risen / (risen - 1 + ceiling / 10.0 ** given_["log10_start"])
    assert math.log10(cells) == pytest.approx(counts["out"], abs=1e-6)


@pytest.mark.parametrize("curve", [GAENZLE_1998_YEAST, GAENZLE_1998_LAB, SALVADO_2011_YEAST])
@pytest.mark.parametrize("temp_c", [20.0, 26.0, 28.0])
def test_twice_the_dilution_is_one_doubling_time_later(curve: Curve, temp_c: float) -> None:
    """Identity of the law (DEVELOPERS.md): it holds whatever c, W and pace are."""
    kitchen = Profile.constant(temp_c=temp_c, hours=200)
    dilution = np.array([3.0, 6.0, 12.0, 24.0])
    hours = hours_to_ripe(
        dilution=dilution, profile=kitchen, curve=curve, ripening_doublings=1.4, owed_doublings=0.8, pace=0.9
    )
    assert np.diff(hours) == pytest.approx(LN2 / (0.9 * float(curve.per_hour(temp_c=temp_c))), rel=1e-9)


def test_the_trade_fact_behind_c_and_what_follows_from_it(reference: Callable[[str], dict[str, Any]]) -> None:
    """1:1:1 at 26 degC peaks at about 5 h (common practice, no source); 1:5:5 then follows at 8.1 h by the law."""
    table = reference("ledger_time_to_peak.json")
    kitchen = Profile.constant(temp_c=26, hours=24)
    for row in table["rows"]:
        hours = hours_to_ripe(**row["in"], profile=kitchen, curve=GAENZLE_1998_YEAST, ripening_doublings=1.4)
        assert hours == pytest.approx(row["out"], abs=table["tolerance"]["abs"])


def test_feeds_by_the_clock_of_science_d3() -> None:
    """Published examples at 26 degC, lag 3 h a feed: feeds until 1 % and 0.1 % survivors are made good."""
    rate = GAENZLE_1998_YEAST.per_hour(temp_c=26)
    expected = {(100, 12): (2, 3, 4), (1000, 12): (3, 4, 6), (100, 24): (1, 1, 1), (1000, 24): (1, 1, 2)}
    for (killed, hours), counts in expected.items():
        for dilution, count in zip((3, 6, 11), counts, strict=True):
            owed, feeds = math.log2(killed), 0
            while owed > 0:
                owed = owed_after(owed_doublings=owed, dilution=dilution, earned=rate * (hours - 3) / LN2)
                feeds += 1
            assert feeds == count, (killed, hours, dilution)


def test_a_feed_left_until_ripe_repays_everything_and_one_cut_short_does_not() -> None:
    kitchen = Profile.constant(temp_c=24, hours=40)
    ripe = hours_to_ripe(
        dilution=6, profile=kitchen, curve=GAENZLE_1998_YEAST, ripening_doublings=1.4, owed_doublings=2, pace=0.8
    )
    for hour, left in ((ripe, 0.0), (ripe / 4, 2 + math.log2(6) - (2 + math.log2(6) + 1.4) / 4)):
        earned = running_doublings(hours=hour, profile=kitchen, curve=GAENZLE_1998_YEAST)
        assert owed_after(owed_doublings=2, dilution=6, earned=earned, pace=0.8) == pytest.approx(left, abs=1e-9)
    total = running_doublings(hours=ripe, profile=kitchen, curve=GAENZLE_1998_YEAST)
    done = ripe_fraction(earned=total, dilution=6, ripening_doublings=1.4, owed_doublings=2, pace=0.8)
    assert done == pytest.approx(1.0)


def test_arrays_of_draws_are_the_draws_one_by_one() -> None:
    rng = np.random.default_rng(3)
    jar, size = holiday(), 25
    draws = {
        "dilution": rng.uniform(2, 12, size),
        "ripening_doublings": rng.normal(1.4, 0.35, size),
        "owed_doublings": rng.gamma(4, 1.5, size),
        "pace": rng.normal(1, 0.12, size),
        "offset_c": rng.normal(0, 1, size),
    }
    for curve in (GAENZLE_1998_YEAST, STOP.curve(GAENZLE_1998_LAB)):
        together = hours_to_ripe(profile=jar, curve=curve, **draws)
        single = [
            hours_to_ripe(profile=jar, curve=curve, **{k: float(v[i]) for k, v in draws.items()}) for i in range(size)
        ]
        assert together == pytest.approx(single, abs=1e-7)
    grid = hours_to_ripe(
        dilution=np.array([[3.0], [6.0]]),
        profile=jar,
        curve=GAENZLE_1998_YEAST,
        ripening_doublings=1.4,
        offset_c=np.array([-1.0, 0.0, 1.0]),
    )
    assert grid.shape == (2, 3)
    running = running_doublings(
        hours=np.array([1.0, 300.0])[:, None], profile=jar, curve=GAENZLE_1998_YEAST, offset_c=draws["offset_c"]
    )
    assert running.shape == (2, size)
    assert isinstance(earned_doublings(profile=jar, curve=GAENZLE_1998_YEAST), float)


def test_not_within_the_profile_is_inf_and_nothing_needed_is_zero() -> None:
    short = Profile.constant(temp_c=26, hours=2)
    late = hours_to_ripe(dilution=11, profile=short, curve=GAENZLE_1998_YEAST, ripening_doublings=[1.4, -9.0])
    assert late.tolist() == [math.inf, 0.0]
    never = hours_to_ripe(
        dilution=2,
        profile=Profile.constant(temp_c=4, hours=1000),
        curve=STOP.curve(GAENZLE_1998_YEAST),
        ripening_doublings=1.4,
    )
    assert never == math.inf
    no_time = Profile.constant(temp_c=26, hours=0)
    assert earned_doublings(profile=no_time, curve=GAENZLE_1998_YEAST) == 0
    assert hours_to_ripe(dilution=2, profile=no_time, curve=GAENZLE_1998_YEAST, ripening_doublings=1.4) == math.inf


def test_ripe_is_the_first_hour_that_is_enough_when_growth_stands_still() -> None:
    """Half the need earned warm, nothing in the cold, and exactly enough at the cold's beginning: not at its end."""
    jar = Profile(hours=[0, 5, 5, 105, 105, 115], temp_c=[26, 26, 4, 4, 26, 26])
    stop = STOP.curve(GAENZLE_1998_YEAST)
    earned = 5 * GAENZLE_1998_YEAST.per_hour(temp_c=26) / LN2
    almost = hours_to_ripe(dilution=2 ** (earned - 1e-6), profile=jar, curve=stop, ripening_doublings=0)
    past = hours_to_ripe(dilution=2 ** (earned + 1e-6), profile=jar, curve=stop, ripening_doublings=0)
    assert almost == pytest.approx(5, abs=1e-4)
    assert past == pytest.approx(105, abs=1e-4)


@given(stays=st.lists(st.tuples(st.floats(0.1, 50), KITCHEN_C), min_size=2, max_size=5), cut=st.floats(0.01, 0.99))
def test_doublings_add_over_any_split(stays: list[tuple[float, float]], cut: float) -> None:
    hours = np.concatenate([[0.0], np.cumsum([stay for stay, _ in stays])])
    temps = np.array([20.0, *(temp for _, temp in stays)])
    whole, at = Profile(hours=hours, temp_c=temps), float(hours[-1] * cut)
    middle = float(np.interp(at, hours, temps))
    before, after = hours[hours < at], hours[hours > at]
    first = Profile(hours=[*before, at], temp_c=[*temps[: len(before)], middle])
    second = Profile(hours=np.concatenate([[at], after]) - at, temp_c=[middle, *temps[len(temps) - len(after) :]])
    for curve in (GAENZLE_1998_YEAST, STOP.curve(GAENZLE_1998_LAB)):
        parts = earned_doublings(profile=first, curve=curve) + earned_doublings(profile=second, curve=curve)
        assert parts == pytest.approx(earned_doublings(profile=whole, curve=curve), abs=1e-6)
        assert running_doublings(hours=at, profile=whole, curve=curve) == pytest.approx(
            earned_doublings(profile=first, curve=curve), abs=1e-6
        )


@given(temp_c=st.floats(2, 26), warmer=st.floats(0.05, 1.0), dilution=st.floats(1.5, 20))
def test_warmer_is_sooner_below_the_optimum(temp_c: float, warmer: float, dilution: float) -> None:
    fixed = {"dilution": dilution, "ripening_doublings": 1.4}
    for curve in (GAENZLE_1998_YEAST, GAENZLE_1998_LAB, SALVADO_2011_YEAST):
        jar = Profile.cooling(start_c=temp_c - 2, ambient_c=temp_c, time_constant_hours=1, hours=5000)
        cool, warm = hours_to_ripe(profile=jar, curve=curve, offset_c=np.array([0.0, warmer]), **fixed)
        assert warm < cool


@given(
    dilution=st.floats(1, 1e300),
    owed=st.floats(0, 1e300),
    ripening=st.floats(-1e300, 1e300),
    pace=st.floats(1e-300, 1e300),
    offset=st.floats(-1e300, 1e300),
    start=st.floats(-30, 60),
    place=st.floats(-30, 60),
    constant=st.floats(1e-3, 1e4),
    hours=st.floats(0, 1e6),
)
def test_never_nan(
    dilution: float,
    owed: float,
    ripening: float,
    pace: float,
    offset: float,
    start: float,
    place: float,
    constant: float,
    hours: float,
) -> None:
    jar = Profile.cooling(start_c=start, ambient_c=place, time_constant_hours=constant, hours=hours)
    for curve in (GAENZLE_1998_YEAST, STOP.curve(GAENZLE_1998_LAB), SALVADO_2011_YEAST, Plain()):
        ripe = hours_to_ripe(
            dilution=dilution,
            profile=jar,
            curve=curve,
            ripening_doublings=ripening,
            owed_doublings=owed,
            pace=pace,
            offset_c=offset,
        )
        earned = earned_doublings(profile=jar, curve=curve, offset_c=offset)
        assert 0 <= ripe <= hours * (1 + 1e-9) or ripe == math.inf
        assert 0 <= earned <= 2 * hours
        assert owed_after(owed_doublings=owed, dilution=dilution, earned=earned, pace=pace) >= 0


class Sick:
    """A curve that gives no number."""

    def per_hour(self, *, temp_c: Array) -> Array:
        return np.full_like(temp_c, np.nan)


KITCHEN = Profile.constant(temp_c=26, hours=24)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"dilution": 0.5}, "dilution is 0.5; it is total grams over grams of seed, 1 or more"),
        ({"dilution": math.nan}, "dilution is nan; it must be a finite number"),
        ({"owed_doublings": -1}, "owed_doublings is -1; it must be zero or more"),
        ({"pace": 0}, "pace is 0; it must be above zero"),
        ({"offset_c": math.inf}, "offset_c is inf; it must be a finite number"),
        ({"ripening_doublings": "soon"}, "ripening_doublings is 'soon'; it must be a number"),
        ({"curve": Sick()}, "the growth curve gives nan per hour at 26 °C; a rate is a finite number"),
    ],
)
def test_bad_input(changed: dict[str, Any], said: str) -> None:
    asked: dict[str, Any] = {
        "dilution": 3,
        "profile": KITCHEN,
        "curve": GAENZLE_1998_YEAST,
        "ripening_doublings": 1.4,
        **changed,
    }
    with pytest.raises(ValueError, match=said):
        hours_to_ripe(**asked)


def test_an_hour_outside_the_profile_is_refused() -> None:
    with pytest.raises(ValueError, match="hours is 25; the profile runs from 0 to 24 h"):
        running_doublings(hours=[3, 25], profile=KITCHEN, curve=GAENZLE_1998_YEAST)
