"""Feeds against their definitions, both ways, and what must be refused."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.maths.culture import Culture, prefermented_fraction
from fallow.maths.feeds import Feed, read_ratio

GRAMS = st.floats(min_value=0.1, max_value=1e5)
PART = st.integers(min_value=1, max_value=2000).map(lambda hundredths: hundredths / 100)
BREAD = {"bread": 1.0}


def test_the_feed_of_the_design() -> None:
    feed = Feed(seed_g=20, water_g=100, flours_g={"bread": 80, "rye": 20})
    assert (feed.total_g, feed.flour_g, feed.dilution) == (220.0, 100.0, 11.0)
    assert feed.doublings == pytest.approx(math.log2(11), abs=1e-15)
    assert (feed.inoculation_fraction, feed.hydration_fraction, feed.ratio) == (0.2, 1.0, "1:5:5")
    assert Feed.from_ratio("1:5:5", seed_g=20, flour_shares={"bread": 0.8, "rye": 0.2}) == feed


def test_published_feed_algebra(reference: Callable[[str], dict[str, Any]]) -> None:
    table = reference("feed_mixes.json")
    for row in table["rows"]:
        feed = Feed.from_ratio(row["in"]["ratio"], seed_g=30, flour_shares=BREAD)
        seed = Culture.of(total_g=30, hydration_fraction=row["in"]["seed_hydration_fraction"], flour_shares=BREAD)
        prefermented = prefermented_fraction(
            inoculation_fraction=feed.inoculation_fraction, hydration_fraction=seed.hydration_fraction
        )
        found = {
            "dilution": feed.dilution,
            "inoculation_fraction": feed.inoculation_fraction,
            "mix_hydration_fraction": seed.after(feed).hydration_fraction,
            "prefermented_fraction": prefermented,
        }
        for name, expected in row["out"].items():
            assert found[name] == pytest.approx(expected, abs=table["tolerance"]["abs"]), (row["id"], name)


@pytest.mark.parametrize("text", ["1:4.5:5", "1:4,5:5", " 1 : 4,5 : 5 ", "2:9:10", "1\u00a0:\u20094.50:5"])
def test_ratio_texts_of_one_feed(text: str) -> None:
    feed = Feed.from_ratio(text, seed_g=20, flour_shares=BREAD)
    assert (feed.flour_g, feed.water_g, feed.ratio) == (90.0, 100.0, "1:4.5:5")


@given(flour=PART, water=PART, seed_g=GRAMS)
def test_ratio_goes_there_and_back(flour: float, water: float, seed_g: float) -> None:
    feed = Feed.from_ratio(f"1:{flour}:{water}", seed_g=seed_g, flour_shares=BREAD)
    assert read_ratio(feed.ratio) == pytest.approx((1.0, flour, water), abs=0.0051, rel=0.06)
    assert feed.dilution == pytest.approx(1 + flour + water)


@given(seed_g=GRAMS, water_g=GRAMS, bread=GRAMS, rye=GRAMS)
def test_identities_of_any_feed(seed_g: float, water_g: float, bread: float, rye: float) -> None:
    feed = Feed(seed_g=seed_g, water_g=water_g, flours_g={"bread": bread, "rye": rye})
    assert feed.dilution == pytest.approx(1 + (1 + feed.hydration_fraction) / feed.inoculation_fraction)
    assert 2**feed.doublings == pytest.approx(feed.dilution)


def test_a_feed_is_frozen_and_keeps_its_own_flours() -> None:
    flours = {"bread": 80.0}
    feed = Feed(seed_g=20, water_g=80, flours_g=flours)
    flours["bread"] = 1.0
    assert feed.flour_g == 80.0
    with pytest.raises(dataclasses.FrozenInstanceError):
        feed.seed_g = 3  # type: ignore[misc]


def test_a_share_of_zero_leaves_the_flour_out() -> None:
    assert Feed.from_ratio("1:1:1", seed_g=5, flour_shares={"bread": 1, "rye": 0}).flours_g == {"bread": 5.0}


@pytest.mark.parametrize(
    "ratio", ["", "1:5", "1:5:5:5", "1:0:5", "0:5:5", "-1:5:5", "1:nan:5", "1:inf:5", "1;5;5", "a:b:c", "1:1e3:5"]
)
def test_a_ratio_that_is_not_one(ratio: str) -> None:
    with pytest.raises(ValueError, match=r"ratio is .* three numbers above zero, starter:flour:water\. Write it as"):
        Feed.from_ratio(ratio, seed_g=20, flour_shares=BREAD)


@pytest.mark.parametrize("bad", [0, -3, math.nan, math.inf])
@pytest.mark.parametrize("field", ["seed_g", "water_g", "bread flour_g"])
def test_grams_that_are_none(bad: float, field: str) -> None:
    grams = {"seed_g": 20.0, "water_g": 100.0, "bread flour_g": 100.0, field: bad}
    with pytest.raises(ValueError, match=f"^{field} is {bad:g}; it must be") as refused:
        Feed(seed_g=grams["seed_g"], water_g=grams["water_g"], flours_g={"bread": grams["bread flour_g"]})
    assert str(refused.value).count(". ") == 1  # one pair: the rule, the next step


def test_no_flour_and_wrong_shares() -> None:
    with pytest.raises(ValueError, match="flours_g is empty"):
        Feed(seed_g=20, water_g=100, flours_g={})
    with pytest.raises(ValueError, match="add up to 100; they must add up to 1"):
        Feed.from_ratio("1:5:5", seed_g=20, flour_shares={"bread": 80, "rye": 20})
    with pytest.raises(ValueError, match=r"share of rye is -0\.2"):
        Feed.from_ratio("1:5:5", seed_g=20, flour_shares={"bread": 1.2, "rye": -0.2})
    with pytest.raises(ValueError, match="seed_g is 'ten'; it must be a number"):
        Feed(seed_g="ten", water_g=100, flours_g=BREAD)  # type: ignore[arg-type]
