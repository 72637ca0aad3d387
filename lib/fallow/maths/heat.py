"""How warm the mixing water must be: by a balance of heat, or by the trade's sum rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fallow.maths.arguments import (
    Array,
    FloatOrArray,
    Number,
    finite,
    kitchen_temperature,
    not_negative,
    plain,
    positive,
)
from fallow.maths.defaults import DEFAULTS

Part = tuple[Number, Number, Number]
_SHOWN_C = 0.5

WATER_KJ_PER_KG_K = 4.18  # IAPWS-95 gives 4.179 to 4.192 from 10 to 40 degC
FLOUR_KJ_PER_KG_K = 1.8  # our choice: handbooks give 1.3 to 2.0


def water_temp_c(*, target_c: Number, parts: Sequence[Part], water_g: Number) -> FloatOrArray:
    """Return how warm the water must be for the mix to come out at ``target_c``.

    T_water = T_target + sum of m c (T_target - T) / (m_water c_water).

    Parameters
    ----------
    target_c
        Temperature of the mix, degC.
    parts
        Everything but the water: (grams, degC, heat capacity in kJ/(kg K)) for each.
    water_g
        Grams of water, above zero; its heat capacity is taken as 4.18.

    Notes
    -----
    Source: balance of heat, nothing lost to bowl and air; constant heat capacities are good to 0.03 degC. The answer
    may be hotter than a culture bears or colder than ice: ``plan_water`` says so. Check H6:

    >>> round(water_temp_c(target_c=27, parts=[(20, 5, 3.02), (100, 20, 1.75)], water_g=100), 2)
    33.11
    """
    target = kitchen_temperature("target_c", target_c)
    heat = _held(parts)
    missing = sum((capacity * (target - temp) for capacity, temp in heat), np.zeros(()))
    return plain(np.asarray(target + missing / (positive("water_g", water_g) * WATER_KJ_PER_KG_K)))


def mix_temp_c(*, parts: Sequence[Part]) -> FloatOrArray:
    """Return the temperature of a mix: sum of m c T over sum of m c.

    Parameters
    ----------
    parts
        (grams, degC, heat capacity in kJ/(kg K)) for each, the water among them.

    Notes
    -----
    Source: balance of heat (textbook); constant heat capacities are good to 0.03 degC. 200 g flour and 100 g warm water:

    >>> round(mix_temp_c(parts=[(200, 20, 1.8), (100, 40, 4.18)]), 2)
    30.75
    """
    heat = _held(parts)
    if not heat or np.any(sum(capacity for capacity, _ in heat) <= 0):
        message = "parts is empty or weighs nothing; a mix needs one part with grams. Add the flour or the water."
        raise ValueError(message)
    whole = sum((capacity for capacity, _ in heat), np.zeros(()))
    return plain(np.asarray(sum((capacity * temp for capacity, temp in heat), np.zeros(())) / whole))


def water_temp_sum_rule_c(*, target_c: Number, others_c: Sequence[Number], friction_c: Number = 0.0) -> FloatOrArray:
    """Return the water temperature of the trade's sum rule: n * target - sum of the others - friction, n = others + 1.

    Parameters
    ----------
    target_c
        Wanted temperature of the dough, degC.
    others_c
        Flour, room and, with a preferment, that too. Weights do not enter: it is a rule for doughs of the usual
        make-up, poor for a few grams of cold seed.
    friction_c
        What mixing adds, degC; about 0 by hand.

    Notes
    -----
    Common practice, no source. Check H5 (26, flour 21, room 22, friction 2; then with a preferment of 24):

    >>> water_temp_sum_rule_c(target_c=26, others_c=[21, 22], friction_c=2)
    33.0
    >>> water_temp_sum_rule_c(target_c=26, others_c=[21, 22, 24], friction_c=2)
    35.0
    """
    others = [kitchen_temperature("others_c", other) for other in others_c]
    if not others:
        message = "others_c is empty; the rule needs the flour's and the room's temperature. Give both."
        raise ValueError(message)
    target, friction = kitchen_temperature("target_c", target_c), finite("friction_c", friction_c)
    return plain(np.asarray(target * (len(others) + 1) - sum(others, np.zeros(())) - friction))


@dataclass(frozen=True, kw_only=True)
class WaterPlan:
    """What the balance asks for, what to use instead when that would harm or cannot be had, and what it comes to."""

    target_c: float
    asked_c: float
    used_c: float
    reached_c: float
    advice: str

    @property
    def fits(self) -> bool:
        """Whether the water asked for can be used as it is."""
        return self.used_c == self.asked_c

    @property
    def misses(self) -> bool:
        """Whether the mix misses its target by what a kitchen's thermometer shows (half a degree; our choice)."""
        return abs(self.reached_c - self.target_c) >= _SHOWN_C


def plan_water(
    *,
    target_c: float,
    parts: Sequence[Part],
    water_g: float,
    hottest_c: float = DEFAULTS.hottest_water_c,
    coldest_c: float = 1.0,
) -> WaterPlan:
    """Return the water to use, kept between ``coldest_c`` and ``hottest_c``, and say what the mix comes to where it misses.

    Source of the limit: water above 35 to 38 degC hurts the culture where it lands (common practice, no source); 1
    degC is ice water. Check: as much cold starter as flour and water would ask for 46 degC.

    >>> plan = plan_water(target_c=27, parts=[(100, 5, 3.02), (100, 20, 1.75)], water_g=100)
    >>> plan.used_c, round(plan.asked_c, 1), round(plan.reached_c, 1)
    (35.0, 45.8, 21.9)
    >>> plan.advice
    'With water at 35 °C, the warmest that does not harm the culture, the mix comes to 22 °C instead of 27 °C.'
    """
    asked = float(water_temp_c(target_c=target_c, parts=parts, water_g=water_g))
    used = min(max(asked, coldest_c), hottest_c)
    reached = float(mix_temp_c(parts=[*parts, (water_g, used, WATER_KJ_PER_KG_K)]))
    plan = WaterPlan(target_c=float(target_c), asked_c=asked, used_c=used, reached_c=reached, advice="")
    return replace(plan, advice=_missed(plan)) if plan.misses else plan


def _missed(plan: WaterPlan) -> str:
    limit = "warmest that does not harm the culture" if plan.asked_c > plan.used_c else "coldest that is not ice"
    return (
        f"With water at {plan.used_c:g} °C, the {limit}, the mix comes to {plan.reached_c:.0f} °C instead of "
        f"{plan.target_c:g} °C."
    )


def _held(parts: Sequence[Part]) -> list[tuple[Array, Array]]:
    """Return each part's heat per kelvin and its temperature."""
    return [
        (
            not_negative("grams of a part", grams) * positive("heat capacity of a part", kj_per_kg_k),
            kitchen_temperature("temperature of a part", temp_c),
        )
        for grams, temp_c, kj_per_kg_k in parts
    ]
