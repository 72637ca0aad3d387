"""What a starter is made of, and the heat it holds: Choi & Okos 1986, from its six kinds of matter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fallow.maths.arguments import Array, FloatOrArray, Number, finite, not_negative, plain

_SLACK = 1e-6
_NAMES = ("water", "protein", "fat", "carbohydrate", "fibre", "ash")
# Each row: a + b T + c T^2, T in degC, in the order of _NAMES (Choi & Okos 1986, liquid water 0 to 150 degC).
_HEAT_KJ_PER_KG_K = np.array(
    [
        [4.1762, -9.0864e-5, 5.4731e-6],
        [2.0082, 1.2089e-3, -1.3129e-6],
        [1.9842, 1.4733e-3, -4.8008e-6],
        [1.5488, 1.9625e-3, -5.9399e-6],
        [1.8459, 1.8306e-3, -4.6509e-6],
        [1.0926, 1.8896e-3, -3.6817e-6],
    ]
)
_DENSITY_KG_PER_M3 = np.array(
    [
        [997.18, 3.1439e-3, -3.7574e-3],
        [1329.9, -0.5184, 0.0],
        [925.59, -0.41757, 0.0],
        [1599.1, -0.31046, 0.0],
        [1311.5, -0.36589, 0.0],
        [2423.8, -0.28063, 0.0],
    ]
)
_CONDUCTIVITY_W_PER_M_K = np.array(
    [
        [0.57109, 1.7625e-3, -6.7036e-6],
        [0.17881, 1.1958e-3, -2.7178e-6],
        [0.18071, -2.7604e-4, -1.7749e-7],
        [0.20141, 1.3874e-3, -4.3312e-6],
        [0.18331, 1.2497e-3, -3.1683e-6],
        [0.32962, 1.4011e-3, -2.9069e-6],
    ]
)


@dataclass(frozen=True, kw_only=True)
class Composition:
    """Mass fractions of a food without air in it; they add up to 1.

    Source of the three properties: Choi & Okos 1986, in Le Maguer & Jelen (eds), Food Engineering and Process
    Applications 1:93-101; heat by mass, density by volume, conductivity by volume in parallel; 0 to 60 degC here.
    Handbooks differ by a tenth on the heat capacity of flour, and foam is not in it.

    >>> starter = WHITE_FLOUR.with_water(hydration_fraction=1.0)
    >>> round(starter.heat_capacity_kj_per_kg_k(temp_c=20), 3), round(starter.density_kg_per_m3(temp_c=20))
    (3.095, 1170)
    """

    water_fraction: float
    protein_fraction: float = 0.0
    fat_fraction: float = 0.0
    carbohydrate_fraction: float = 0.0
    fibre_fraction: float = 0.0
    ash_fraction: float = 0.0

    def __post_init__(self) -> None:
        whole = float(np.sum([not_negative(f"{name}_fraction", getattr(self, f"{name}_fraction")) for name in _NAMES]))
        if abs(whole - 1.0) > _SLACK:
            message = f"the fractions add up to {whole:g}; they must add up to 1. Write 14 % water as 0.14."
            raise ValueError(message)

    @property
    def fractions(self) -> Array:
        """Water, protein, fat, carbohydrate, fibre and ash, in this order."""
        return np.array([getattr(self, f"{name}_fraction") for name in _NAMES], dtype=float)

    def with_water(self, *, hydration_fraction: float) -> Composition:
        """Return this flour mixed with water, ``hydration_fraction`` grams to each gram of flour (1 is 100 %).

        >>> round(WHITE_FLOUR.with_water(hydration_fraction=1.0).water_fraction, 2)
        0.57
        """
        water = float(not_negative("hydration_fraction", hydration_fraction))
        parts = self.fractions / (1.0 + water)
        parts[0] += water / (1.0 + water)
        return Composition(**{f"{name}_fraction": float(part) for name, part in zip(_NAMES, parts, strict=True)})

    def heat_capacity_kj_per_kg_k(self, *, temp_c: Number = 20.0) -> FloatOrArray:
        """Return the heat capacity: cp = sum of x_i cp_i(T).

        >>> round(Composition(water_fraction=0.0, protein_fraction=1.0).heat_capacity_kj_per_kg_k(temp_c=20), 4)
        2.0319
        """
        return plain(self.fractions @ _each(_HEAT_KJ_PER_KG_K, temp_c))

    def density_kg_per_m3(self, *, temp_c: Number = 20.0) -> FloatOrArray:
        """Return the density of solids and water without air: 1/rho = sum of x_i/rho_i(T).

        >>> round(WHITE_FLOUR.density_kg_per_m3(temp_c=20))
        1417
        """
        return plain(1.0 / (self.fractions @ (1.0 / _each(_DENSITY_KG_PER_M3, temp_c))))

    def conductivity_w_per_m_k(self, *, temp_c: Number = 20.0) -> FloatOrArray:
        """Return the heat conductivity: k = sum of v_i k_i(T), v_i the share of the volume.

        >>> round(WHITE_FLOUR.with_water(hydration_fraction=1.0).conductivity_w_per_m_k(temp_c=20), 2)
        0.48
        """
        volumes = self.fractions @ (1.0 / _each(_DENSITY_KG_PER_M3, temp_c))
        carried = self.fractions @ (_each(_CONDUCTIVITY_W_PER_M_K, temp_c) / _each(_DENSITY_KG_PER_M3, temp_c))
        return plain(np.asarray(carried / volumes))


WHITE_FLOUR = Composition(
    water_fraction=0.140,
    protein_fraction=0.120,
    fat_fraction=0.015,
    carbohydrate_fraction=0.693,
    fibre_fraction=0.027,
    ash_fraction=0.005,
)  # a usual white wheat flour, from memory; wholemeal and rye differ by under 0.3 % in a starter's heat capacity


def _each(table: Array, temp_c: Number) -> Array:
    """Return a property of the six parts: one row a part, one column a temperature (or one number a part)."""
    t = finite("temp_c", temp_c)
    outside = (t < 0) | (t > 60)
    if np.any(outside):
        message = f"temp_c is {float(t[outside].flat[0]):g}; these numbers hold from 0 to 60 °C here. Ask within it."
        raise ValueError(message)
    return np.asarray(np.polynomial.polynomial.polyval(t, table.T, tensor=True))
