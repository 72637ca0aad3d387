"""A culture carried through feeds: mass is conserved, old flour thins out by the dilution feed after feed."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.maths.culture import Culture
from fallow.maths.feeds import Feed

RATIOS = st.lists(
    st.tuples(st.floats(0.2, 20), st.floats(0.2, 20)).map(lambda parts: f"1:{parts[0]:.3f}:{parts[1]:.3f}"),
    min_size=1,
    max_size=6,
)


@given(ratios=RATIOS, hydration=st.floats(0.3, 2.0), rye=st.floats(0.0, 1.0))
def test_mass_is_conserved_through_any_chain(ratios: list[str], hydration: float, rye: float) -> None:
    jar = Culture.of(total_g=50, hydration_fraction=hydration, flour_shares={"rye": rye, "bread": 1 - rye})
    for ratio in ratios:
        seed_g = jar.total_g / 2
        feed = Feed.from_ratio(ratio, seed_g=seed_g, flour_shares={"bread": 1.0})
        after = jar.after(feed)
        assert after.total_g == pytest.approx(feed.total_g)
        assert after.water_g == pytest.approx(jar.water_g / 2 + feed.water_g)
        assert after.flour_g == pytest.approx(jar.flour_g / 2 + feed.flour_g)
        assert after.flours_g.get("rye", 0.0) == pytest.approx(jar.flours_g.get("rye", 0.0) / 2)
        jar = after


@pytest.mark.parametrize("dilution_ratio", ["1:1:1", "1:2:2", "1:5:5"])
def test_rye_after_three_white_feeds(dilution_ratio: str) -> None:
    """Source: mass balance. At equal hydration the old flour's share falls by the dilution each time."""
    jar = Culture.of(total_g=60, hydration_fraction=1.0, flour_shares={"rye": 0.3, "bread": 0.7})
    feed = Feed.from_ratio(dilution_ratio, seed_g=20, flour_shares={"bread": 1.0})
    assert jar.after_feeds([feed] * 3).share("rye") == pytest.approx(0.3 / feed.dilution**3)


def test_a_stiff_seed_pulls_the_mix_down() -> None:
    """Computed apart: 1:2:1 of a seed of 50 % has 50 %."""
    jar = Culture.of(total_g=60, hydration_fraction=0.5, flour_shares={"bread": 1.0})
    feed = Feed.from_ratio("1:2:1", seed_g=20, flour_shares={"bread": 1.0})
    assert jar.after(feed).hydration_fraction == pytest.approx(0.5)


def test_bad_input() -> None:
    jar = Culture.of(total_g=30, hydration_fraction=1.0, flour_shares={"bread": 1.0})
    with pytest.raises(ValueError, match="40 g are asked of a jar of 30 g"):
        jar.taken(grams=40)
    with pytest.raises(ValueError, match="hydration_fraction is 0; it must be above zero"):
        Culture.of(total_g=30, hydration_fraction=0, flour_shares={"bread": 1.0})
    with pytest.raises(ValueError, match="flour_g is 0"):
        Culture(water_g=10, flours_g={})
    with pytest.raises(ValueError, match="grams is nan"):
        jar.taken(grams=math.nan)
