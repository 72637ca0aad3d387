"""Gas: constants against scipy's CODATA, atoms that balance, a rise counted both ways, the closed jar's caution."""

from __future__ import annotations

from typing import Any

import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from fallow.maths.gas import (
    CLOSED_JAR_CAUTION,
    HETEROLACTIC,
    HOMOLACTIC,
    YEAST_ON_GLUCOSE,
    YEAST_ON_MALTOSE,
    closed_jar_gauge_kpa,
    dissolved_co2_g_per_l,
    gas_behind_rise,
    molar_volume_l_per_mol,
    warming_factor,
)
from fallow.maths.q10 import GAS_CONSTANT_J_PER_MOL_K


def test_the_gas_constant_and_molar_volume_are_codatas() -> None:
    assert pytest.approx(scipy.constants.R, rel=1e-12) == GAS_CONSTANT_J_PER_MOL_K
    codata = scipy.constants.value("molar volume of ideal gas (273.15 K, 101.325 kPa)") * 1000
    assert molar_volume_l_per_mol(temp_c=0) == pytest.approx(codata, rel=1e-9)


def test_mass_balances_sugar_to_gas_and_ethanol() -> None:
    """Glucose -> 2 CO2 + 2 ethanol (46.068 g/mol): what is not gas is ethanol, 0.5114 g/g (stoichiometry)."""
    ethanol = 2 * 46.068 / 180.156
    assert YEAST_ON_GLUCOSE.co2_g_per_g + ethanol == pytest.approx(1, abs=1e-4)
    assert YEAST_ON_MALTOSE.co2_g_per_g / YEAST_ON_GLUCOSE.co2_g_per_g == pytest.approx(2 * 180.156 / 342.297)
    assert HETEROLACTIC.co2_g_per_g == pytest.approx(YEAST_ON_GLUCOSE.co2_g_per_g / 2)
    assert HOMOLACTIC.co2_ml_per_g(temp_c=25) == 0


@given(grams=st.floats(1, 5000), factor=st.floats(1, 5), temp_c=st.floats(0, 40), hydration=st.floats(0.4, 2))
def test_the_sugar_behind_a_rise_gives_that_rise(grams: float, factor: float, temp_c: float, hydration: float) -> None:
    rise = gas_behind_rise(starter_g=grams, rise_factor=factor, hydration_fraction=hydration, temp_c=temp_c)
    sugar_g = rise.sugar_fraction_of_flour * grams / (1 + hydration)
    assert sugar_g * YEAST_ON_GLUCOSE.co2_ml_per_g(temp_c=temp_c) == pytest.approx(rise.gas_ml, rel=1e-9, abs=1e-9)
    assert sugar_g * YEAST_ON_GLUCOSE.co2_g_per_g == pytest.approx(rise.co2_g, rel=1e-9, abs=1e-12)


def test_warming_is_the_ratio_of_two_molar_volumes() -> None:
    ratio = molar_volume_l_per_mol(temp_c=25) / molar_volume_l_per_mol(temp_c=4)
    assert warming_factor(from_c=4, to_c=25) == pytest.approx(ratio, rel=1e-12)


@given(mmol=st.floats(0, 100), space=st.floats(1, 1000), water=st.floats(0, 1000), temp_c=st.floats(0, 40))
def test_gas_in_a_closed_jar_is_all_accounted_for(mmol: float, space: float, water: float, temp_c: float) -> None:
    """What is in the air space plus what is dissolved is what was made."""
    kpa = closed_jar_gauge_kpa(co2_mmol=mmol, headspace_ml=space, water_ml=water, temp_c=temp_c)
    above = kpa * space / (scipy.constants.R * (temp_c + 273.15))
    within = dissolved_co2_g_per_l(temp_c=temp_c, pressure_kpa=kpa) / 44.0095 * water
    assert above + within == pytest.approx(mmol, rel=1e-9, abs=1e-9)


def test_the_caution_says_what_to_do() -> None:
    assert "Never" in CLOSED_JAR_CAUTION
    assert "loose" in CLOSED_JAR_CAUTION


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: gas_behind_rise(starter_g=100, rise_factor=0.5, hydration_fraction=1),
            "rise_factor is 0.5; a rise is 1",
        ),
        (
            lambda: gas_behind_rise(starter_g=100, rise_factor=2, hydration_fraction=1, route=HOMOLACTIC),
            "makes no gas; a rise needs some",
        ),
        (lambda: molar_volume_l_per_mol(temp_c=-300), "nothing is colder than -273.15"),
        (
            lambda: closed_jar_gauge_kpa(co2_mmol=1, headspace_ml=0, water_ml=10, temp_c=20),
            "headspace_ml is 0; it must be above zero",
        ),
    ],
)
def test_what_cannot_be_is_refused(call: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()
