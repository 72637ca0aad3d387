"""Acid: speciation by balance, conventions that will not mix, dilution counted feed by feed."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from fallow.maths.acid import (
    ACETIC_PKA,
    LACTIC_PKA,
    YEAST_STOPS_AT_ACETIC_MMOL_PER_L,
    TitratableAcidity,
    fermentation_quotient,
    residual_acid_fraction,
    steady_acid,
    undissociated_fraction,
    undissociated_mmol_per_l,
)

EUROPEAN = TitratableAcidity(ml=9.0, endpoint_ph=8.5, sample_g=10)
AMERICAN = TitratableAcidity(ml=13.0, endpoint_ph=6.6, sample_g=15)


@given(ph=st.floats(0, 14), pka=st.floats(1, 12))
def test_speciation_solves_the_equilibrium(ph: float, pka: float) -> None:
    """Ka = [H][A]/[HA], solved by root finding instead of the closed form."""
    held, ka = 10.0**-ph, 10.0**-pka
    share = brentq(lambda free: held * (1 - free) - ka * free, 0, 1, xtol=1e-15)
    assert undissociated_fraction(ph=ph, pka=pka) == pytest.approx(share, abs=1e-12)


@given(ph=st.floats(-1e300, 1e300), pka=st.floats(-1e300, 1e300))
def test_speciation_is_never_nan(ph: float, pka: float) -> None:
    assert 0 <= undissociated_fraction(ph=ph, pka=pka) <= 1


def test_a_ripe_starter_stays_far_under_what_stops_the_yeast(reference: Any) -> None:
    """The three measured starters of Nutrients 2019, 11:2954, Table 2."""
    for row in reference("undissociated_acid.json")["rows"]:
        if row["id"].endswith("acetic"):
            acid = undissociated_mmol_per_l(**row["in"])
            assert acid < YEAST_STOPS_AT_ACETIC_MMOL_PER_L / 3


def test_two_conventions_are_not_compared() -> None:
    with pytest.raises(ValueError, match=r"only values titrated alike compare\. Endpoints cannot be converted"):
        EUROPEAN.difference_ml(AMERICAN)
    with pytest.raises(ValueError, match="Bring both to one sample size first"):
        EUROPEAN.difference_ml(EUROPEAN.for_sample(sample_g=15))


def test_values_titrated_alike_are_compared() -> None:
    ripe = TitratableAcidity(ml=6.6, endpoint_ph=8.5, sample_g=10)
    assert EUROPEAN.difference_ml(ripe) == pytest.approx(2.4)
    assert EUROPEAN.for_sample(sample_g=15).for_sample(sample_g=10).ml == pytest.approx(9.0)
    assert EUROPEAN.for_sample(sample_g=15).mmol_per_kg == pytest.approx(EUROPEAN.mmol_per_kg)


@given(dilution=st.floats(1.01, 50), feeds=st.integers(0, 12))
def test_old_acid_counted_feed_by_feed(dilution: float, feeds: int) -> None:
    left = 1.0
    for _ in range(feeds):
        left /= dilution
    assert residual_acid_fraction(dilution=dilution, feeds=feeds) == pytest.approx(left, rel=1e-9)


@given(dilution=st.floats(1.5, 50))
def test_steady_acid_is_where_the_feeds_settle(dilution: float) -> None:
    acid = 0.0
    for _ in range(200):
        acid = acid / dilution + 40.0
    assert steady_acid(made=40.0, dilution=dilution) == pytest.approx(acid, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: TitratableAcidity(ml=9, endpoint_ph=85, sample_g=10), "endpoint_ph is 85"),
        (lambda: TitratableAcidity(ml=-1, endpoint_ph=8.5, sample_g=10), "ml is -1"),
        (lambda: TitratableAcidity(ml=9, endpoint_ph=8.5, sample_g=0), "sample_g is 0"),
        (lambda: residual_acid_fraction(dilution=1, feeds=2), "dilution is 1; a feed makes more of the starter"),
        (lambda: fermentation_quotient(lactic_mmol_per_kg=40, acetic_mmol_per_kg=0), "acetic_mmol_per_kg is 0"),
        (
            lambda: undissociated_mmol_per_l(total_mmol_per_kg=40, ph=3.9, pka=LACTIC_PKA, water_fraction=46),
            "water_fraction is 46; it is at most 1",
        ),
        (lambda: undissociated_fraction(ph=float("nan"), pka=ACETIC_PKA), "ph is nan"),
    ],
)
def test_what_cannot_be_is_refused(call: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()
