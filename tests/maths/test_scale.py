"""What a scale leaves open, against brute force over every corner of what it may have shown."""

from __future__ import annotations

import itertools
import math

import pytest

from fallow.maths.feeds import Feed
from fallow.maths.scale import weighed


@pytest.mark.parametrize(("scale_g", "seed_g"), [(1, 3), (0.1, 3), (2, 20), (1, 10)])
def test_every_corner_lies_inside(scale_g: float, seed_g: float) -> None:
    feed = Feed(seed_g=seed_g, water_g=15, flours_g={"bread": 12, "rye": 3})
    seen = weighed(feed=feed, scale_g=scale_g)
    corners = []
    for off in itertools.product((-0.5, 0, 0.5), repeat=4):
        seed, water, bread, rye = (g + o * scale_g for g, o in zip((seed_g, 15, 12, 3), off, strict=True))
        corners.append((math.log2((seed + water + bread + rye) / seed), seed / (bread + rye)))
    doublings, inoculation = zip(*corners, strict=True)
    assert (seen.doublings_low, seen.doublings_high) == pytest.approx((min(doublings), max(doublings)))
    assert (seen.inoculation_low_fraction, seen.inoculation_high_fraction) == pytest.approx(
        (min(inoculation), max(inoculation))
    )


def test_three_grams_on_a_one_gram_scale_are_a_factor() -> None:
    three = weighed(feed=Feed(seed_g=3, water_g=15, flours_g={"bread": 15}), scale_g=1)
    assert three.seed_factor == pytest.approx(3.5 / 2.5)
    assert not three.enough_seed
    ten = weighed(feed=Feed(seed_g=10, water_g=50, flours_g={"bread": 50}), scale_g=1)
    assert ten.enough_seed


def test_hours_off_are_the_doublings_at_the_rate() -> None:
    three = weighed(feed=Feed(seed_g=3, water_g=15, flours_g={"bread": 15}), scale_g=1)
    early, late = three.hours_off(rate_per_hour=math.log(2), pace=0.5)
    assert early == pytest.approx(2 * (three.doublings_low - three.feed.doublings))
    assert late == pytest.approx(2 * (three.doublings_high - three.feed.doublings))


def test_a_scale_too_coarse_to_show_anything() -> None:
    with pytest.raises(ValueError, match="scale_g is 6 and the feed has an amount of 3 g"):
        weighed(feed=Feed(seed_g=3, water_g=15, flours_g={"bread": 15}), scale_g=6)
