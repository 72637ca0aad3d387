"""Forecasts carry their clock, interval and story; draws are even, the same for a seed, and what they claim to be."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from fallow.maths.cold import CREEP, STOP, ColdScenario
from fallow.maths.draws import culture_draws, even_shares, interval
from fallow.maths.forecast import RipeForecast, sour_band, sour_forecast, yeast_band, yeast_forecast
from fallow.maths.ledger import hours_to_ripe, running_doublings
from fallow.maths.profile import Profile
from fallow.maths.rates import GAENZLE_1998_YEAST

DRAWS = culture_draws(count=400, seed=5, owed_doublings=1.2)
KITCHEN = Profile.constant(temp_c=24, hours=60)
FRIDGE = Profile.through_places(start_c=24, places_c=[21, 4], hours=[3, 40 * 24], time_constant_hours=1.6)


def test_draws_have_the_distributions_they_claim() -> None:
    """Oracle: scipy.stats' own distributions (Kolmogorov-Smirnov distance of n evenly spread points is 1/(2n))."""
    claimed = {
        "pace": stats.lognorm(s=0.12),
        "lab_pace": stats.lognorm(s=0.12),
        "ripening_doublings": stats.norm(1.4, 0.35),
        "lab_ripening_doublings": stats.norm(1.4, 0.7),
        "owed_doublings": stats.gamma(4, scale=0.3),
        "offset_c": stats.norm(0, 0.608),
    }
    for name, law in claimed.items():
        assert stats.kstest(getattr(DRAWS, name), law.cdf).statistic == pytest.approx(1 / 800, abs=1e-6), name
    columns = np.stack([getattr(DRAWS, name) for name in claimed])
    assert np.abs(np.corrcoef(columns) - np.eye(6)).max() < 0.05, "one unknown tells nothing about another"


def test_the_same_seed_gives_the_same_draws_and_another_does_not() -> None:
    assert np.array_equal(even_shares(count=50, columns=3, seed=9), even_shares(count=50, columns=3, seed=9))
    assert not np.array_equal(even_shares(count=50, columns=3, seed=9), even_shares(count=50, columns=3, seed=10))
    assert not culture_draws(count=5, seed=1).owed_doublings.any(), "a culture in form owes nothing in any draw"


def test_even_draws_beat_random_ones_on_a_known_mean() -> None:
    """Mean of a product of two columns, known to be 1/4: evenly spread points miss it by far less than 1/sqrt(n)."""
    misses = [abs(np.prod(even_shares(count=256, columns=2, seed=s), axis=1).mean() - 0.25) for s in range(20)]
    assert max(misses) < 0.2 * math.sqrt(7 / 144 / 256)


def test_interval_counts_infinite_draws() -> None:
    assert interval(np.array([1.0] * 94 + [np.inf] * 6)) == (1.0, 1.0, np.inf)
    assert interval(np.arange(1, 101.0)) == (5.0, 50.0, 95.0)


def test_a_forecast_is_the_law_over_its_draws() -> None:
    """Independent route at constant temperature: hours = need ln 2 / (pace mu(T + offset)), then numpy's quantiles."""
    need = math.log2(6) + DRAWS.ripening_doublings + DRAWS.owed_doublings
    rate = np.asarray(GAENZLE_1998_YEAST.per_hour(temp_c=24 + DRAWS.offset_c))
    hours = need * math.log(2) / (DRAWS.pace * rate)
    expected = np.quantile(hours, [0.05, 0.5, 0.95], method="inverted_cdf")
    said = yeast_forecast(dilution=6, profile=KITCHEN, draws=DRAWS, cold=CREEP)
    assert (said.low_hours, said.hours, said.high_hours) == pytest.approx(tuple(expected), rel=1e-9)
    assert said.ripe_chance == 1
    middle = hours_to_ripe(
        dilution=6, profile=KITCHEN, curve=GAENZLE_1998_YEAST, ripening_doublings=1.4, owed_doublings=1.2
    )
    assert said.hours == pytest.approx(middle, rel=0.03)


def test_the_debt_moves_the_yeast_clock_only() -> None:
    in_form = culture_draws(count=400, seed=5)
    ahead, behind = (
        yeast_forecast(dilution=6, profile=KITCHEN, draws=draws, cold=CREEP).hours for draws in (in_form, DRAWS)
    )
    assert ahead < behind
    assert sour_forecast(dilution=6, profile=KITCHEN, draws=in_form, cold=CREEP) == sour_forecast(
        dilution=6, profile=KITCHEN, draws=DRAWS, cold=CREEP
    )


@pytest.mark.parametrize("cold", [CREEP, STOP])
def test_what_crosses_cold_hours_says_the_word(cold: ColdScenario) -> None:
    for forecast in (yeast_forecast, sour_forecast):
        chilled = forecast(dilution=6, profile=FRIDGE, draws=DRAWS, cold=cold)
        assert (chilled.cold, chilled.crosses_cold, chilled.extrapolated) == (cold, True, chilled.extrapolated)
        assert str(chilled).endswith(f"; in the cold: {cold.word}")
        warm = forecast(dilution=6, profile=KITCHEN, draws=DRAWS, cold=cold)
        assert (warm.cold, warm.crosses_cold, warm.extrapolated) == (cold, False, False)
        assert "cold" not in str(warm)


def test_a_feed_ripe_before_the_fridge_crosses_no_cold() -> None:
    late_chill = Profile(hours=[0, 40, 44, 200], temp_c=[26, 26, 4, 4])
    said = yeast_forecast(dilution=3, profile=late_chill, draws=DRAWS, cold=STOP)
    assert (said.crosses_cold, said.extrapolated) == (False, False)
    hot = yeast_forecast(dilution=3, profile=Profile.constant(temp_c=35.5, hours=9), draws=DRAWS, cold=STOP)
    assert hot.extrapolated


def test_sentences() -> None:
    fields = {"clock": "yeast clock", "ripe_chance": 1.0, "cold": STOP, "crosses_cold": True, "extrapolated": True}
    texts = {
        (3.0, 5.0, 8.0): "yeast clock: ripe after about 5.0 h (3.0 to 8.0 h); in the cold: stop",
        (3.0, 5.0, math.inf): "yeast clock: ripe after about 5.0 h (3.0 to later than looked at); in the cold: stop",
        (3.0, math.inf, math.inf): "yeast clock: probably not ripe within these hours, at the earliest after 3.0 h; "
        "in the cold: stop",
        (math.inf,) * 3: "yeast clock: not ripe within these hours; in the cold: stop",
    }
    for (low, middle, high), text in texts.items():
        assert str(RipeForecast(low_hours=low, hours=middle, high_hours=high, **fields)) == text  # type: ignore[arg-type]


def test_bands_hold_the_running_total_and_are_the_draws_own_quantiles() -> None:
    hours = np.linspace(0, 30, 31)
    for band in (yeast_band, sour_band):
        seen = band(hours=hours, profile=KITCHEN, draws=DRAWS, cold=CREEP)
        assert np.all(np.diff(seen.doublings) > 0)
        assert np.all((seen.low_doublings <= seen.doublings) & (seen.doublings <= seen.high_doublings))
    each = np.array(
        [
            pace * running_doublings(hours=30, profile=KITCHEN, curve=GAENZLE_1998_YEAST, offset_c=offset)
            for pace, offset in zip(DRAWS.pace, DRAWS.offset_c, strict=True)
        ]
    )
    seen = yeast_band(hours=hours, profile=KITCHEN, draws=DRAWS, cold=CREEP)
    found = (seen.low_doublings[-1], seen.doublings[-1], seen.high_doublings[-1])
    assert found == pytest.approx(tuple(np.quantile(each, [0.05, 0.5, 0.95], method="inverted_cdf")))


def test_bad_input() -> None:
    with pytest.raises(ValueError, match="count is 0; at least one draw"):
        culture_draws(count=0, seed=1)
    with pytest.raises(ValueError, match="owed_doublings is -1"):
        culture_draws(count=10, seed=1, owed_doublings=-1)
