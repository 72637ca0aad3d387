"""Gas: what a sugar gives, what a rise holds, how much of it is only warming, and why a closed jar is a danger."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fallow.maths.arguments import FloatOrArray, Number, not_negative, plain, positive
from fallow.maths.q10 import GAS_CONSTANT_J_PER_MOL_K, kelvin

ATMOSPHERE_KPA = 101.325
CO2_G_PER_MOL = 44.0095
GLUCOSE_G_PER_MOL = 180.156
MALTOSE_G_PER_MOL = 342.297
STARTER_G_PER_ML = 1.13  # a stirred starter; without any air Choi & Okos 1986 gives 1.15 to 1.17
CLOSED_JAR_CAUTION = (
    "Never clamp or screw a lid tight on a live starter: gas can build up more than one atmosphere of pressure and "
    "burst the glass. Leave the lid loose, in the fridge too."
)


def molar_volume_l_per_mol(*, temp_c: Number, pressure_kpa: Number = ATMOSPHERE_KPA) -> FloatOrArray:
    """Return the volume of a mole of an ideal gas: R T/p, in L.

    Source: ideal gas, R of CODATA 2018; check C4.

    >>> round(molar_volume_l_per_mol(temp_c=0), 3), round(molar_volume_l_per_mol(temp_c=25), 3)
    (22.414, 24.465)
    """
    return plain(GAS_CONSTANT_J_PER_MOL_K * kelvin("temp_c", temp_c) / positive("pressure_kpa", pressure_kpa))


@dataclass(frozen=True, kw_only=True)
class GasRoute:
    """One way from sugar to carbon dioxide: who, from which sugar, and moles of CO2 to a mole of it (stoichiometry).

    >>> round(YEAST_ON_GLUCOSE.co2_g_per_g, 5), round(YEAST_ON_GLUCOSE.co2_ml_per_g(temp_c=25), 1)
    (0.48857, 271.6)
    """

    name: str
    sugar_g_per_mol: float
    co2_per_sugar: float

    @property
    def co2_g_per_g(self) -> float:
        """Grams of CO2 from a gram of sugar."""
        return self.co2_per_sugar * CO2_G_PER_MOL / self.sugar_g_per_mol

    def co2_ml_per_g(self, *, temp_c: Number) -> FloatOrArray:
        """Return mL of CO2 from a gram of sugar at one atmosphere.

        Source: stoichiometry and the ideal gas; checks C1 to C3.

        >>> round(YEAST_ON_MALTOSE.co2_ml_per_g(temp_c=25), 1), round(HETEROLACTIC.co2_ml_per_g(temp_c=25), 1)
        (285.9, 135.8)
        """
        per_mol_ml = np.asarray(molar_volume_l_per_mol(temp_c=temp_c)) * 1000.0
        return plain(np.asarray(self.co2_per_sugar / self.sugar_g_per_mol * per_mol_ml))


YEAST_ON_GLUCOSE = GasRoute(name="yeast on glucose", sugar_g_per_mol=GLUCOSE_G_PER_MOL, co2_per_sugar=2)
YEAST_ON_MALTOSE = GasRoute(name="yeast on maltose", sugar_g_per_mol=MALTOSE_G_PER_MOL, co2_per_sugar=4)
HETEROLACTIC = GasRoute(name="heterofermentative LAB on glucose", sugar_g_per_mol=GLUCOSE_G_PER_MOL, co2_per_sugar=1)
HOMOLACTIC = GasRoute(name="homofermentative LAB on glucose", sugar_g_per_mol=GLUCOSE_G_PER_MOL, co2_per_sugar=0)


@dataclass(frozen=True, kw_only=True)
class RiseGas:
    """What a rise holds if no gas got out: mL and mmol/kg of CO2, its grams, and the sugar behind it."""

    gas_ml: FloatOrArray
    co2_mmol_per_kg: FloatOrArray
    co2_g: FloatOrArray
    sugar_fraction_of_flour: FloatOrArray


def gas_behind_rise(
    *,
    starter_g: Number,
    rise_factor: Number,
    hydration_fraction: Number,
    temp_c: Number = 26.0,
    starter_g_per_ml: Number = STARTER_G_PER_ML,
    route: GasRoute = YEAST_ON_GLUCOSE,
) -> RiseGas:
    """Return the least gas behind a rise: (factor - 1) times the starter's own volume, all kept.

    Parameters
    ----------
    starter_g, hydration_fraction
        Starter in the jar, and grams of water to a gram of flour in it.
    rise_factor
        Height over first height in a straight-sided jar, 1 or more.
    temp_c, starter_g_per_ml
        Temperature of the gas; density of the starter before it rises.
    route
        Where the gas comes from; one that makes none is refused.

    Notes
    -----
    Source: derived (stoichiometry, ideal gas). Check: 100 g doubled take 0.65 % of the flour as sugar,
    and lose 0.16 g of weight if all the gas leaves.

    >>> rise = gas_behind_rise(starter_g=100, rise_factor=2, hydration_fraction=1)
    >>> round(rise.gas_ml), round(rise.co2_mmol_per_kg, 1), round(rise.sugar_fraction_of_flour, 4), round(rise.co2_g, 2)
    (88, 36.1, 0.0065, 0.16)
    """
    grams, factor = positive("starter_g", starter_g), positive("rise_factor", rise_factor)
    if np.any(factor < 1):
        message = f"rise_factor is {float(factor.min()):g}; a rise is 1 or more. Divide the height by the first height."
        raise ValueError(message)
    if route.co2_per_sugar <= 0:
        message = f"the route is {route.name}, which makes no gas; a rise needs some. Choose another route."
        raise ValueError(message)
    gas_ml = (factor - 1.0) * grams / positive("starter_g_per_ml", starter_g_per_ml)
    mmol = gas_ml / np.asarray(molar_volume_l_per_mol(temp_c=temp_c))
    flour_g = grams / (1.0 + positive("hydration_fraction", hydration_fraction))
    sugar_g = mmol / 1000.0 / route.co2_per_sugar * route.sugar_g_per_mol
    return RiseGas(
        gas_ml=plain(np.asarray(gas_ml)),
        co2_mmol_per_kg=plain(np.asarray(mmol / grams * 1000.0)),
        co2_g=plain(np.asarray(mmol / 1000.0 * CO2_G_PER_MOL)),
        sugar_fraction_of_flour=plain(np.asarray(sugar_g / flour_g)),
    )


def warming_factor(*, from_c: Number, to_c: Number) -> FloatOrArray:
    """Return how much a bubble swells by warming alone: T2/T1 in kelvin. That part of a rise is not fermentation.

    Source: ideal gas at constant pressure. Check: from the fridge to the bench.

    >>> round(warming_factor(from_c=4, to_c=25), 4)
    1.0758
    """
    return plain(np.asarray(kelvin("to_c", to_c) / kelvin("from_c", from_c)))


def dissolved_co2_g_per_l(*, temp_c: Number, pressure_kpa: Number = ATMOSPHERE_KPA) -> FloatOrArray:
    """Return how much CO2 water takes up under its own gas: k = 3.3e-4 exp[2400 (1/T - 1/298.15)] mol/(m3 Pa).

    Source: Henry's law; its constant and its temperature dependence from memory. Check: 2.71 g/L
    at 4 degC, 1.47 at 25: cold dough holds nearly twice as much, which comes out on warming.

    >>> [round(float(g), 2) for g in dissolved_co2_g_per_l(temp_c=[4, 25])]
    [2.71, 1.47]
    """
    pressure = not_negative("pressure_kpa", pressure_kpa)
    return plain(np.asarray(_henry_mol_per_l_kpa(temp_c) * pressure * CO2_G_PER_MOL))


def closed_jar_gauge_kpa(*, co2_mmol: Number, headspace_ml: Number, water_ml: Number, temp_c: Number) -> FloatOrArray:
    """Return the pressure above atmosphere in a closed jar: p = n/(V/(R T) + k V_water). A caution, no more.

    Parameters
    ----------
    co2_mmol
        CO2 made since the lid was shut, mmol.
    headspace_ml, water_ml
        Air space above the starter, and water in it that dissolves gas, mL.

    Notes
    -----
    Source: derived (ideal gas, Henry's law). Check: 200 g making 50 mmol/kg under 100 mL of air, about
    1.3 bar at 25 degC, and 2.5 bar if nothing dissolved. Show ``CLOSED_JAR_CAUTION`` beside it.

    >>> round(closed_jar_gauge_kpa(co2_mmol=10, headspace_ml=100, water_ml=107, temp_c=25))
    132
    """
    space_l = positive("headspace_ml", headspace_ml) / 1000.0
    water_l = not_negative("water_ml", water_ml) / 1000.0
    takes = space_l / (GAS_CONSTANT_J_PER_MOL_K * kelvin("temp_c", temp_c)) + _henry_mol_per_l_kpa(temp_c) * water_l
    return plain(np.asarray(not_negative("co2_mmol", co2_mmol) / 1000.0 / takes))


def _henry_mol_per_l_kpa(temp_c: Number) -> np.ndarray:
    # mol/(m3 Pa) and mol/(L kPa) are the same number.
    return np.asarray(3.3e-4 * np.exp(2400.0 * (1.0 / kelvin("temp_c", temp_c) - 1.0 / 298.15)))
