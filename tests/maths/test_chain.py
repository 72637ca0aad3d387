"""Chains of feeds end in exactly what was asked for, and no gram is made or lost on the way."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.maths.chain import plan_chain

BREAD = {"bread": 0.8, "rye": 0.2}
RATIO = st.tuples(st.floats(0.5, 10), st.floats(0.5, 10)).map(lambda parts: f"1:{parts[0]:.2f}:{parts[1]:.2f}")


@given(
    ratios=st.lists(RATIO, min_size=1, max_size=5),
    ripe_g=st.floats(20, 2000),
    keep_g=st.floats(0, 100),
    loss_g=st.floats(0, 10),
    scale_g=st.sampled_from([0.0, 0.1, 1.0, 2.0]),
)
def test_mass_is_conserved(ratios: list[str], ripe_g: float, keep_g: float, loss_g: float, scale_g: float) -> None:
    chain = plan_chain(
        ratios=ratios, have_g=5000, ripe_g=ripe_g, keep_g=keep_g, loss_g=loss_g, scale_g=scale_g, flour_shares=BREAD
    )
    new = sum(feed.water_g + feed.flour_g for feed in chain.feeds)
    out = ripe_g + keep_g + chain.discard_g + chain.lost_g
    assert chain.have_g + new == pytest.approx(out, abs=1e-6)
    assert all(discard >= 0 for discard in (*chain.discards_g, chain.leftover_g))
    assert all(feed.seed_g >= 10 * scale_g for feed in chain.feeds)


def test_one_feed_by_hand() -> None:
    """By hand: 170 g wanted and 5 g lost make 175 g; 1:3:3 needs 25 g of seed, 75 g flour, 75 g water."""
    chain = plan_chain(ratios=["1:3:3"], have_g=30, ripe_g=150, keep_g=20, flour_shares={"bread": 1})
    feed = chain.feeds[0]
    assert (feed.seed_g, feed.flour_g, feed.water_g) == pytest.approx((25, 75, 75))
    assert (chain.discard_g, chain.lost_g, chain.flour_g) == pytest.approx((0, 10, 75))


def test_only_the_last_jar_is_discarded_when_the_scale_asks_for_more_seed() -> None:
    chain = plan_chain(ratios=["1:5:5"], have_g=40, ripe_g=30, loss_g=5, scale_g=1, flour_shares=BREAD)
    assert chain.feeds[0].seed_g == 10.0
    assert chain.leftover_g == pytest.approx(110 - 35)


def test_bad_input() -> None:
    with pytest.raises(ValueError, match=r"have_g is 10; the first feed needs 25 g of seed and 5 g stay behind"):
        plan_chain(ratios=["1:3:3"], have_g=10, ripe_g=150, keep_g=20, flour_shares=BREAD)
    with pytest.raises(ValueError, match="ratios is empty"):
        plan_chain(ratios=[], have_g=10, ripe_g=150, flour_shares=BREAD)
    with pytest.raises(ValueError, match="ripe_g is 0"):
        plan_chain(ratios=["1:3:3"], have_g=10, ripe_g=0, flour_shares=BREAD)
    with pytest.raises(ValueError, match="loss_g is -5"):
        plan_chain(ratios=["1:3:3"], have_g=100, ripe_g=50, loss_g=-5, flour_shares=BREAD)
