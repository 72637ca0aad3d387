"""Flour: bases that convert and return, and the types of the standards against the copied table."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.maths.flour import (
    CODEX_MOISTURE_LIMIT_PERCENT,
    DIN_10355_RYE,
    DIN_10355_WHEAT,
    DPR_187_2001,
    FRENCH_TYPES,
    on_other_moisture_percent,
    same_dry_g,
    types_of_ash,
)

ALL_TYPES = (*DIN_10355_WHEAT, *DIN_10355_RYE, *DPR_187_2001, *FRENCH_TYPES)


def test_every_type_is_as_its_standard_says(reference: Any) -> None:
    """DIN 10355, DPR 187/2001 and the French types, row by row, none more and none less."""
    rows = reference("flour_types.json")["rows"]
    copied = {(row["in"]["standard"], row["in"]["name"], row["in"]["grain"]): row for row in rows}
    ours = {(each.standard, each.name, each.grain): each for each in ALL_TYPES}
    assert ours.keys() == copied.keys()
    for key, each in ours.items():
        said = copied[key]["out"]
        assert [each.ash_low_percent, each.ash_high_percent] == said["ash_percent"], key
        assert [each.protein_low_percent, each.moisture_high_percent] == said["protein_and_moisture_percent"], key
        assert each.tag == copied[key]["tag"], key


def test_codex_moisture_limit() -> None:
    """F5, Codex STAN 152-1985, read: wheat flour holds at most 15.5 % water."""
    assert CODEX_MOISTURE_LIMIT_PERCENT == 15.5


@pytest.mark.parametrize("types", [DIN_10355_WHEAT[:5], DIN_10355_RYE], ids=["wheat", "rye"])
def test_german_types_follow_on_one_another_in_hundredths(types: Any) -> None:
    for finer, coarser in pairwise(types):
        assert coarser.ash_low_percent == pytest.approx(finer.ash_high_percent + 0.01)


def test_an_ash_content_finds_its_type() -> None:
    """F2 and F4 together: 0.48 % at 14 % moisture is 0.558 % dry, a 550, not a 405."""
    dry = on_other_moisture_percent(percent=0.48, moisture_percent=14, to_moisture_percent=0)
    assert types_of_ash(ash_percent=dry, types=DIN_10355_WHEAT[:5]) == ("550",)
    assert types_of_ash(ash_percent=0.635, types=DIN_10355_WHEAT[:5]) == ()
    assert types_of_ash(ash_percent=0.50, types=DPR_187_2001)[0] == "00"
    assert types_of_ash(ash_percent=2.0, types=FRENCH_TYPES) == ("T150", "T170")


@given(percent=st.floats(0, 50), first=st.floats(0, 40), second=st.floats(0, 40))
def test_bases_convert_there_and_back(percent: float, first: float, second: float) -> None:
    there = on_other_moisture_percent(percent=percent, moisture_percent=first, to_moisture_percent=second)
    back = on_other_moisture_percent(percent=there, moisture_percent=second, to_moisture_percent=first)
    assert back == pytest.approx(percent, rel=1e-12)
    grams = same_dry_g(flour_g=100, moisture_percent=first, to_moisture_percent=second)
    assert grams * there == pytest.approx(100 * percent, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: same_dry_g(flour_g=100, moisture_percent=100),
            "moisture_percent is 100; flour is less than all water",
        ),
        (
            lambda: on_other_moisture_percent(percent=-1, moisture_percent=14, to_moisture_percent=0),
            "percent is -1; it must be zero or more",
        ),
        (lambda: types_of_ash(ash_percent=float("nan"), types=DIN_10355_RYE), "ash_percent is nan"),
    ],
)
def test_what_cannot_be_is_refused(call: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()
