"""How fast a jar follows the temperature around it, and the history of a feed from its mix on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fallow.maths.arguments import kitchen_temperature, positive
from fallow.maths.composition import WHITE_FLOUR
from fallow.maths.feeds import Feed
from fallow.maths.heat import FLOUR_KJ_PER_KG_K, WATER_KJ_PER_KG_K, mix_temp_c
from fallow.maths.profile import Profile

GLASS_KJ_PER_KG_K = 0.84  # from memory
LARGEST_TRUSTED_BIOT = 0.2


@dataclass(frozen=True, kw_only=True)
class JarTimeConstant:
    """The time constant of a jar, its Biot number, and what to say when one temperature no longer describes it."""

    hours: float
    biot: float
    surface_cm2: float
    warning: str


def jar_time_constant_hours(
    *,
    starter_g: float,
    glass_g: float,
    still_air_w_per_m2_k: float = 8.0,
    hydration_fraction: float = 1.0,
    surface_cm2: float | None = None,
) -> JarTimeConstant:
    """Return how fast a jar in still air follows its surroundings: tau = sum of m c / (h A).

    Biot = h (V/A) / k of the starter: below 0.1 one temperature describes the jar, to 0.2 it is tolerable (textbook).

    Parameters
    ----------
    starter_g, glass_g
        Grams of starter and of the empty jar.
    still_air_w_per_m2_k
        Heat passed to still air, radiation included: 5 to 10 in a fridge (from memory).
    surface_cm2
        Outer surface of the jar. Left out: a cylinder as wide as high that holds the starter twice (our choice).

    Notes
    -----
    Source: lumped heat balance, starter properties of Choi & Okos 1986; computed apart: 1.03 h for this jar, from a
    surface of 293 cm2:

    >>> jar = jar_time_constant_hours(starter_g=200, glass_g=300, surface_cm2=293)
    >>> round(jar.hours, 2), round(jar.biot, 2), jar.warning
    (1.03, 0.1, '')
    """
    starter = WHITE_FLOUR.with_water(hydration_fraction=float(positive("hydration_fraction", hydration_fraction)))
    starter_kg, glass_kg = float(positive("starter_g", starter_g)) / 1e3, float(positive("glass_g", glass_g)) / 1e3
    volume = starter_kg / float(starter.density_kg_per_m3())
    surface = _twice_filled_m2(volume) if surface_cm2 is None else float(positive("surface_cm2", surface_cm2)) / 1e4
    passed = float(positive("still_air_w_per_m2_k", still_air_w_per_m2_k))
    held = (starter_kg * float(starter.heat_capacity_kj_per_kg_k()) + glass_kg * GLASS_KJ_PER_KG_K) * 1e3
    biot = passed * volume / surface / float(starter.conductivity_w_per_m_k())
    return JarTimeConstant(
        hours=held / (passed * surface) / 3600.0, biot=biot, surface_cm2=surface * 1e4, warning=_biot_warning(biot)
    )


def time_constant_from_readings(*, first_c: float, second_c: float, place_c: float, hours_between: float) -> float:
    """Return the time constant from two thermometer readings: hours / ln((first - place)/(second - place)).

    Source: Newton's law. A jar of 26 degC that reads 8 degC in a fridge of 4 degC after 1.7047 h has 1 h:

    >>> round(time_constant_from_readings(first_c=26, second_c=8, place_c=4, hours_between=1.7047), 3)
    1.0
    """
    first, second, place = (
        float(kitchen_temperature(name, value))
        for name, value in (("first_c", first_c), ("second_c", second_c), ("place_c", place_c))
    )
    hours = float(positive("hours_between", hours_between))
    if (first - place) * (second - place) <= 0 or abs(second - place) >= abs(first - place):
        message = (
            f"the readings are {first:g} and {second:g} °C in a place of {place:g} °C; the second must lie between the "
            "first and the place. Read again while the jar is still on its way."
        )
        raise ValueError(message)
    return hours / math.log((first - place) / (second - place))


def fed_c(*, feed: Feed, seed_c: float, water_c: float, flour_c: float, seed_hydration_fraction: float = 1.0) -> float:
    """Return the temperature of a feed just mixed: cold seed, water from the tap, flour from the cupboard.

    Source: balance of heat (``mix_temp_c``), nothing lost to the jar.

    >>> feed = Feed.from_ratio("1:5:5", seed_g=20, flour_shares={"bread": 1})
    >>> round(fed_c(feed=feed, seed_c=4, water_c=33, flour_c=20), 1)
    26.7
    """
    seed = WHITE_FLOUR.with_water(
        hydration_fraction=float(positive("seed_hydration_fraction", seed_hydration_fraction))
    )
    parts = [
        (feed.seed_g, seed_c, seed.heat_capacity_kj_per_kg_k()),
        (feed.water_g, water_c, WATER_KJ_PER_KG_K),
        (feed.flour_g, flour_c, FLOUR_KJ_PER_KG_K),
    ]
    return float(mix_temp_c(parts=parts))


def feed_profile(
    *,
    feed: Feed,
    seed_c: float,
    water_c: float,
    flour_c: float,
    places_c: Sequence[float],
    hours: Sequence[float],
    time_constant_hours: float,
) -> Profile:
    """Return a feed's own history: from its mixed temperature to each place's, one after the other.

    Derived: the heat balance of the mix, then Newton's law of cooling in each place.

    Parameters
    ----------
    seed_c, water_c, flour_c
        Temperatures of what is mixed, degC.
    places_c, hours
        Where it stands, in order, and for how long.

    Examples
    --------
    >>> feed = Feed.from_ratio("1:5:5", seed_g=20, flour_shares={"bread": 1})
    >>> jar = feed_profile(
    ...     feed=feed, seed_c=4, water_c=18, flour_c=20, places_c=[24], hours=[12], time_constant_hours=1.5
    ... )
    >>> round(jar.temp_c(hours=0), 1), round(jar.temp_c(hours=12), 1)
    (17.2, 24.0)
    """
    start_c = fed_c(feed=feed, seed_c=seed_c, water_c=water_c, flour_c=flour_c)
    return Profile.through_places(
        start_c=start_c, places_c=places_c, hours=hours, time_constant_hours=time_constant_hours
    )


def _twice_filled_m2(volume_m3: float) -> float:
    width: float = (4.0 * 2.0 * volume_m3 / math.pi) ** (1.0 / 3.0)
    return 1.5 * math.pi * float(width) ** 2


def _biot_warning(biot: float) -> str:
    if biot <= LARGEST_TRUSTED_BIOT:
        return ""
    return (
        f"The Biot number is {biot:.2f}, above {LARGEST_TRUSTED_BIOT:g}: the middle of so big a jar lags its wall "
        "by an hour or more. Measure with a thermometer in the middle."
    )
