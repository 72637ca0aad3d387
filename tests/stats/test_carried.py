"""The share of a debt carried over a ripe feed: found again in jars made to carry it, and never assumed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fallow.stats.carried import by_rye, carried_share
from fallow.stats.cold import fit_cold


def jars_that_carry(kitchen: Callable[..., Any], share: float, *, without: str = "") -> Any:
    """Six jars that carry a share over each feed; ``without`` is what nobody wrote down of the third feed of the first."""
    made = kitchen(look_hours=0.4)
    for number, first in enumerate([1.5, 2.0, 2.5, 3.0, 3.5, 2.2]):
        made.jar(f"j{number}", [first * share**k for k in range(5)])
    if without:
        feeds = made.rows["feeds"]
        next(row for row in feeds if (row["jar"], row["feed"]) == ("j0", 3)).pop(without)
    return made.trial


@pytest.mark.parametrize("share", [0.2, 0.5, 0.75])
def test_a_share_put_in_is_found_again(kitchen: Callable[..., Any], share: float) -> None:
    low, middle, high = by_rye(fit_cold(jars_that_carry(kitchen, share)))[False].interval
    assert low < share < high
    assert middle == pytest.approx(share, abs=0.08)


def test_jars_that_carry_nothing_show_little(kitchen: Callable[..., Any]) -> None:
    assert by_rye(fit_cold(jars_that_carry(kitchen, 0.0)))[False].interval[0] < 0.05


@pytest.mark.parametrize("without", ["place_temp_c", "seed_g"])
def test_a_number_nobody_wrote_down_does_not_move_the_share(kitchen: Callable[..., Any], without: str) -> None:
    """One temperature left open made 1 % of a half."""
    share = by_rye(fit_cold(jars_that_carry(kitchen, 0.5, without=without)))[False]
    assert share.jars == 6
    assert share.interval[0] < 0.5 < share.interval[2]
    assert share.interval[1] == pytest.approx(0.5, abs=0.08)


def test_a_feed_nobody_saw_is_not_skipped_over(kitchen: Callable[..., Any]) -> None:
    """Of feeds 1 and 3 a quarter is left at a share of a half; taken for two in a row they would tell a quarter."""
    fit = fit_cold(jars_that_carry(kitchen, 0.5))
    gap = fit.feeds[fit.feeds["feed"].isin([1, 3])]
    with pytest.raises(ValueError, match="no jar has two recovery feeds"):
        carried_share(gap, believed=fit.believed)


def test_draws_spread_over_beliefs_and_jars(kitchen: Callable[..., Any]) -> None:
    carried = by_rye(fit_cold(jars_that_carry(kitchen, 0.5)))[False]
    draws = carried.draws(size=50, jars=20)
    assert draws.shape == (50, 20)
    assert ((draws > 0) & (draws < 1)).all()
    assert np.median(draws) == pytest.approx(carried.interval[1], abs=0.03)


def test_one_feed_of_each_jar_tells_nothing_of_the_next(kitchen: Callable[..., Any]) -> None:
    made = kitchen()
    made.jar("a", [2.0])
    fit = fit_cold(made.trial)
    assert by_rye(fit) == {}
    with pytest.raises(ValueError, match="no jar has two recovery feeds"):
        carried_share(fit.feeds, believed=fit.believed)
