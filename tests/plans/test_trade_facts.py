"""Trade facts (common practice, no source) held against the ledger at its defaults: asserted where they hold, told as a distance.

Nothing is tuned to them. Rates: Gaenzle 1998, constants: the defaults.
"""

from __future__ import annotations

import numpy as np
import pytest

from fallow.maths.debt import cold_doublings
from fallow.maths.defaults import DEFAULTS
from fallow.maths.feeds import Feed
from fallow.maths.ledger import earned_doublings
from fallow.maths.profile import Profile
from fallow.maths.rates import GAENZLE_1998_YEAST

C = DEFAULTS.ripening_doublings.middle
# The third fact's window: from half a doubling before ripe to one after it.
EARLY, LATE = -0.5, 1.0


def past_ripe(*, feed: Feed, temp_c: float, hours: float, owed: float = 0.0) -> float:
    """Return by how many doublings the feed is past ripe after some hours at one temperature; below zero: short of it."""
    stay = Profile.constant(temp_c=temp_c, hours=hours)
    return float(earned_doublings(profile=stay, curve=GAENZLE_1998_YEAST)) - feed.doublings - owed - C


def test_a_pinch_of_starter_overnight_is_not_yet_at_its_peak():
    """3-5 g in 100 g flour and 100 g water, 7-9 h at 21-25 degC. Said to be risen and bubbly; the ledger is 1.7 to 4.9 short.

    At every corner of the ranges; between them the distance lies between, for it falls with seed, warmth and hours.
    """
    short = [
        -past_ripe(feed=Feed(seed_g=g, water_g=100, flours_g={"bread": 100}), temp_c=t, hours=h)
        for g in (3, 5)
        for t in (21, 25)
        for h in (7, 9)
    ]
    assert min(short) > 0.5
    assert (min(short), max(short)) == pytest.approx((1.66, 4.85), abs=0.02)


def test_after_two_to_four_weeks_a_rye_feed_at_thirty_degrees_is_near_ripe_but_not_for_dough():
    """25 g into 50 g rye and 50 g water, 7.5-10 h in a 30 degC box: within 2 doublings of ripe, and its seed owed too much.

    Asserted at every corner of weeks and hours after the default cold of 4 degC. After 3 degC it holds as well; after 5 degC
    it is missed by a hair at one corner (four weeks, 7.5 h: 2.004 short), recorded as the distance it is.
    """
    assert near_ripe(cold_c=4) == pytest.approx((-1.83, -0.17), abs=0.01)
    assert np.abs([near_ripe(cold_c=4), near_ripe(cold_c=3)]).max() <= 2.0
    assert near_ripe(cold_c=5) == pytest.approx((-2.004, -0.25), abs=0.003)


def near_ripe(*, cold_c: float) -> tuple[float, float]:
    """Return the least and the most that such a feed is past ripe; every one of them from seed that is not for dough."""
    feed, away = Feed(seed_g=25, water_g=50, flours_g={"rye": 50}), []
    for days in (14, 28):
        owed = float(cold_doublings(days=days, temp_c=cold_c))
        assert owed > 0.5
        away += [past_ripe(feed=feed, temp_c=30, hours=h, owed=owed) for h in (7.5, 10)]
    return min(away), max(away)


def test_then_a_lean_wheat_feed_peaks_at_nine_to_twelve_hours():
    """16 g into 152 g flour and 153 g water at 23-26 degC, 9-12 h (common practice, no source): held in matched pairs only.

    The practice names a range of hours for a range of warmth. Read as 'the cooler, the longer' (12 h at 23, 10.5 h at 24.5,
    9 h at 26 degC) the ledger at its defaults holds it: within half a doubling before ripe to one after. Read as 'any hour at any
    of these temperatures' it does not: 9 h at 23 degC is 1.43 doublings short, 12 h at 26 degC 1.45 past. These two are
    recorded as the distance they are.

    No pace and no constant c mends both. The two corners lie 2.9 paces apart and the window is 1.5 wide, so a pace of 0.52 at
    most would fit them in; but that slow, the cool corner is half a doubling before ripe at the nearest only with a c of -1.6 or
    less, a feed at its peak long before it has grown back.
    """
    feed = Feed(seed_g=16, water_g=153, flours_g={"bread": 152})
    for temp, hours in ((23, 12), (24.5, 10.5), (26, 9)):
        assert EARLY <= past_ripe(feed=feed, temp_c=temp, hours=hours) <= LATE
    short, late = past_ripe(feed=feed, temp_c=23, hours=9), past_ripe(feed=feed, temp_c=26, hours=12)
    assert (short, late) == pytest.approx((-1.43, 1.45), abs=0.01)
    fitting_pace = (LATE - EARLY) / (late - short)
    most_ripening = fitting_pace * (short + feed.doublings + C) - feed.doublings - EARLY
    assert (fitting_pace, most_ripening) == pytest.approx((0.52, -1.59), abs=0.01)
