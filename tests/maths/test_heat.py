"""Heat: the balance both ways, the cap that tells, Choi & Okos, and water against IAPWS-95."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS95

from fallow.maths.composition import WHITE_FLOUR, Composition
from fallow.maths.heat import mix_temp_c, plan_water, water_temp_c, water_temp_sum_rule_c
from fallow.maths.water import water_density_kg_per_m3, water_heat_capacity_kj_per_kg_k

PART = st.tuples(st.floats(1, 2000), st.floats(-5, 40), st.floats(1, 4.2))


@given(target_c=st.floats(15, 35), parts=st.lists(PART, min_size=1, max_size=5), water_g=st.floats(1, 2000))
def test_water_so_warm_gives_the_target_back(target_c: float, parts: list[Any], water_g: float) -> None:
    water_c = water_temp_c(target_c=target_c, parts=parts, water_g=water_g)
    if -30 <= water_c <= 60:
        assert mix_temp_c(parts=[*parts, (water_g, water_c, 4.18)]) == pytest.approx(target_c, abs=1e-9)


@given(parts=st.lists(PART, min_size=1, max_size=5))
def test_a_mix_lies_between_its_parts(parts: list[Any]) -> None:
    temps = [temp for _, temp, _ in parts]
    assert min(temps) - 1e-9 <= mix_temp_c(parts=parts) <= max(temps) + 1e-9


def test_constant_heat_capacity_is_good_to_three_hundredths_of_a_degree() -> None:
    """Enthalpies of IAPWS-95: 1 kg at 5 and 1 kg at 60 degC come to 32.479 degC (the iapws package)."""
    cold, warm = (IAPWS95(T=temp_c + 273.15, P=0.101325).h for temp_c in (5, 60))
    truth = IAPWS95(P=0.101325, h=(cold + warm) / 2).T - 273.15
    assert mix_temp_c(parts=[(1000, 5, 4.18), (1000, 60, 4.18)]) == pytest.approx(truth, abs=0.03)
    assert truth == pytest.approx(32.479, abs=1e-3)


def test_arrays_of_temperatures_broadcast() -> None:
    asked = water_temp_c(target_c=np.array([24.0, 27.0]), parts=[(20, 5, 3.02), (100, 20, 1.75)], water_g=100)
    assert asked.shape == (2,)
    assert asked[1] == pytest.approx(33.11, abs=0.01)


def test_water_too_hot_is_told_and_never_used_in_silence() -> None:
    plan = plan_water(target_c=27, parts=[(100, 5, 3.02), (100, 20, 1.75)], water_g=100)
    assert plan.asked_c == pytest.approx(45.8, abs=0.05)
    assert (plan.used_c, plan.fits) == (35.0, False)
    assert plan.reached_c < plan.target_c
    assert plan.advice == (
        "With water at 35 °C, the warmest that does not harm the culture, the mix comes to 22 °C instead of 27 °C."
    )


def test_water_colder_than_ice_is_told_too() -> None:
    plan = plan_water(target_c=18, parts=[(100, 32, 3.02), (400, 34, 1.8)], water_g=200)
    assert plan.asked_c < 1.0
    assert plan.used_c == 1.0
    assert plan.reached_c > plan.target_c
    assert plan.advice.startswith("With water at 1 °C, the coldest that is not ice, the mix comes to ")


def test_water_that_misses_by_less_than_a_thermometer_shows_is_no_matter_for_advice() -> None:
    """35.4 degC asked, 35 used: a tenth of a degree in the mix."""
    plan = plan_water(target_c=27, parts=[(34.4, 5, 3.02), (100, 20, 1.75)], water_g=100)
    assert plan.asked_c == pytest.approx(35.4, abs=0.2)
    assert (plan.used_c, plan.fits) == (35.0, False)
    assert (plan.misses, plan.advice) == (False, "")


def test_water_that_can_be_had_is_used_as_asked() -> None:
    plan = plan_water(target_c=27, parts=[(20, 5, 3.02), (100, 20, 1.75)], water_g=100)
    assert plan.fits
    assert plan.used_c == plan.asked_c == pytest.approx(33.11, abs=0.01)
    assert plan.reached_c == pytest.approx(27, abs=1e-9)


def test_the_sum_rule_and_the_balance_part_over_a_cold_seed() -> None:
    """The trade's rule gives the seed a full share; 20 g of it weigh little. Both are shown, so the gap is known."""
    balance = water_temp_c(target_c=27, parts=[(20, 5, 3.02), (100, 20, 1.8)], water_g=100)
    rule = water_temp_sum_rule_c(target_c=27, others_c=[20, 21, 5])
    assert rule - balance > 20


@pytest.mark.parametrize("temp_c", [0.01, 4, 5, 10, 15, 20, 25, 30, 35, 38, 40])
def test_water_against_iapws95(temp_c: float) -> None:
    """H1, H2: density within 0.002 kg/m3, heat capacity within 0.0002 kJ/(kg K)."""
    truth = IAPWS95(T=temp_c + 273.15, P=0.101325)
    assert water_density_kg_per_m3(temp_c=temp_c) == pytest.approx(truth.rho, abs=0.002)
    assert water_heat_capacity_kj_per_kg_k(temp_c=temp_c) == pytest.approx(truth.cp, abs=0.0002)


def test_choi_okos_water_is_near_the_real_one() -> None:
    """Two sources for one thing: within 1 % in heat, 0.3 % in density from 4 to 40 degC."""
    water, temps = Composition(water_fraction=1.0), np.linspace(4, 40, 10)
    assert water.heat_capacity_kj_per_kg_k(temp_c=temps) == pytest.approx(
        water_heat_capacity_kj_per_kg_k(temp_c=temps), rel=0.01
    )
    assert water.density_kg_per_m3(temp_c=temps) == pytest.approx(water_density_kg_per_m3(temp_c=temps), rel=0.003)


@given(hydration=st.floats(0, 3))
def test_mixing_by_fractions_is_mixing_by_mass(hydration: float) -> None:
    mixed = WHITE_FLOUR.with_water(hydration_fraction=hydration)
    by_mass = (
        WHITE_FLOUR.heat_capacity_kj_per_kg_k()
        + hydration * Composition(water_fraction=1.0).heat_capacity_kj_per_kg_k()
    ) / (1 + hydration)
    assert mixed.heat_capacity_kj_per_kg_k() == pytest.approx(by_mass, rel=1e-12)
    assert mixed.fractions.sum() == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: water_temp_c(target_c=80, parts=[], water_g=1), "If this was Fahrenheit, write 26.7 °C"),
        (lambda: water_temp_c(target_c=27, parts=[], water_g=0), "water_g is 0; it must be above zero"),
        (lambda: water_temp_c(target_c=27, parts=[(-1, 5, 3)], water_g=9), "grams of a part is -1"),
        (lambda: mix_temp_c(parts=[]), "a mix needs one part with grams"),
        (lambda: mix_temp_c(parts=[(0, 5, 3)]), "parts is empty or weighs nothing"),
        (lambda: water_temp_sum_rule_c(target_c=26, others_c=[]), "others_c is empty"),
        (lambda: water_density_kg_per_m3(temp_c=70), "holds from 0 to 40 °C"),
        (lambda: Composition(water_fraction=14), "add up to 14; they must add up to 1"),
        (lambda: WHITE_FLOUR.density_kg_per_m3(temp_c=-18), "hold from 0 to 60 °C"),
    ],
)
def test_what_cannot_be_is_refused(call: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()


def test_the_six_parts_have_the_published_coefficients(reference: Any) -> None:
    """H3, Choi & Okos 1986: heat capacity, density and conductivity of each part as a + b T + c T², at three places."""
    published = reference("choi_okos_parts.json")
    for row in published["rows"]:
        pure = Composition(**({"water_fraction": 0.0} | {f"{row['id']}_fraction": 1.0}))
        a_b_c = np.array(row["in"]["coefficients"]).reshape(3, 3)
        for temp_c in (0.0, 20.0, 40.0):
            heat, density, conductivity = a_b_c @ [1.0, temp_c, temp_c**2]
            assert pure.heat_capacity_kj_per_kg_k(temp_c=temp_c) == pytest.approx(heat, rel=1e-12)
            assert pure.density_kg_per_m3(temp_c=temp_c) == pytest.approx(density, rel=1e-12)
            assert pure.conductivity_w_per_m_k(temp_c=temp_c) == pytest.approx(conductivity, rel=1e-12)
        printed = published["tolerance"]["abs"]
        assert pure.heat_capacity_kj_per_kg_k(temp_c=20.0) == pytest.approx(row["out"], abs=printed)


def test_starters_of_five_hydrations(reference: Any) -> None:
    """Choi & Okos 1986, computed apart; the flour behind them is from memory, so one unit of the last digit."""
    for row in reference("choi_okos_starters.json")["rows"]:
        starter = WHITE_FLOUR.with_water(**row["in"])
        heat, density, conductivity = row["out"]
        assert starter.heat_capacity_kj_per_kg_k(temp_c=20) == pytest.approx(heat, abs=1e-3)
        assert starter.density_kg_per_m3(temp_c=20) == pytest.approx(density, abs=1)
        assert starter.conductivity_w_per_m_k(temp_c=20) == pytest.approx(conductivity, abs=0.01)
