"""The rate from a dilution series: closed form, R's lm and survreg, and how often its interval holds the truth."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.maths.ledger import hours_to_ripe
from fallow.maths.profile import Profile
from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.stats.dilution_series import LN2, rate_from_dilutions

RunR = Callable[[str], str]
DILUTION = np.array([5.0, 7.5, 11.0, 21.0, 41.0, 60.0])


def said(values: np.ndarray) -> str:
    return "c(" + ",".join(f"{value:.17g}" for value in values) + ")"


@given(st.floats(0.05, 1.5), st.floats(0.0, 6.0))
def test_a_series_without_error_gives_the_rate_whatever_the_mark(rate: float, mark: float) -> None:
    hours = (np.log(DILUTION) + mark) / rate
    found = rate_from_dilutions(dilution=DILUTION, hours_to_mark=hours)
    assert found.per_hour == pytest.approx(rate, rel=1e-9)
    assert found.low == pytest.approx(found.high, rel=1e-5)


def test_the_published_curve_is_read_back_from_ripe_hours() -> None:
    warm = Profile.constant(temp_c=26.0, hours=72.0)
    hours = [
        float(hours_to_ripe(dilution=d, profile=warm, curve=GAENZLE_1998_YEAST, ripening_doublings=1.4))
        for d in DILUTION
    ]
    found = rate_from_dilutions(dilution=DILUTION, hours_to_mark=hours)
    assert found.per_hour == pytest.approx(float(GAENZLE_1998_YEAST.per_hour(temp_c=26.0)), rel=1e-6)


def test_seen_hours_are_rs_lm(run_r: RunR) -> None:
    rng = np.random.default_rng(1)
    block = np.array(["mon", "mon", "mon", "tue", "tue", "tue"])
    hours = (np.log(DILUTION) + 1.0) / 0.4 + 0.5 * (block == "tue") + rng.normal(0, 0.15, 6)
    script = f"""x <- log2({said(DILUTION)}); h <- {said(hours)}; b <- factor(rep(c("mon", "tue"), each=3))
      f <- lm(h ~ b + x); cat(sprintf("%.12g", c(coef(f)["x"], confint(f, "x", level=0.9))))"""
    middle, low, high = (float(value) for value in run_r(script).split())
    found = rate_from_dilutions(dilution=DILUTION, hours_to_mark=hours, block=block)
    assert [found.per_hour, found.low, found.high] == pytest.approx([LN2 / middle, LN2 / high, LN2 / low], rel=1e-9)


def test_hours_between_looks_are_rs_survreg(run_r: RunR) -> None:
    rng = np.random.default_rng(5)
    dilution = np.repeat(DILUTION, 3)
    hours = (np.log(dilution) + 1.0) / 0.4 + rng.normal(0, 0.5, len(dilution))
    low, high = np.floor(hours / 0.5) * 0.5, np.floor(hours / 0.5) * 0.5 + 0.5
    script = f"""library(survival); x <- log2({said(dilution)})
      f <- survreg(Surv({said(low)}, {said(high)}, type="interval2") ~ x, dist="gaussian",
                   control=list(rel.tolerance=1e-12, maxiter=200))
      cat(sprintf("%.12g", c(coef(f)["x"], sqrt(vcov(f)["x", "x"]))))"""
    middle, error = (float(value) for value in run_r(script).split())
    found = rate_from_dilutions(dilution=dilution, low_hours=low, high_hours=high)
    assert found.per_hour == pytest.approx(LN2 / middle, rel=1e-5)
    # Student's t with 16 degrees of freedom (1.745884), the error enlarged by sqrt(n / (n - 2)) as least squares does
    reach = 1.745884 * error * np.sqrt(18 / 16)
    assert [found.low, found.high] == pytest.approx([LN2 / (middle + reach), LN2 / (middle - reach)], rel=1e-4)
    assert found.note == ""


def test_narrow_looks_give_what_seen_hours_give() -> None:
    rng = np.random.default_rng(2)
    hours = (np.log(DILUTION) + 1.0) / 0.4 + rng.normal(0, 0.3, 6)
    seen = rate_from_dilutions(dilution=DILUTION, hours_to_mark=hours)
    near = rate_from_dilutions(dilution=DILUTION, low_hours=hours - 0.002, high_hours=hours + 0.002)
    for name in ("per_hour", "low", "high"):
        assert getattr(near, name) == pytest.approx(getattr(seen, name), rel=1e-3)


def test_looks_too_far_apart_give_a_range_and_say_so() -> None:
    hours = (np.log(DILUTION) + 1.0) / 0.4
    found = rate_from_dilutions(dilution=DILUTION, low_hours=np.floor(hours), high_hours=np.floor(hours) + 1)
    assert found.note.startswith("One line passes between all looks")
    assert found.low < 0.4 < found.high


def test_a_jar_not_yet_at_the_mark_counts_for_what_it_is() -> None:
    rng = np.random.default_rng(9)
    hours = (np.log(DILUTION) + 1.0) / 0.4 + rng.normal(0, 0.3, 6)
    low, high = hours - 0.05, hours + 0.05
    low[-1], high[-1] = 9.0, np.inf
    found = rate_from_dilutions(dilution=DILUTION, low_hours=low, high_hours=high)
    assert found.low < 0.4 < found.high


@pytest.mark.parametrize("looks", [None, 0.5])
def test_nine_intervals_in_ten_hold_the_rate(looks: float | None) -> None:
    """Fewer hits than a coverage of 0.9 would show once in ten thousand runs fail; looks half an hour apart, error 0.3 h."""
    rng = np.random.default_rng(3)
    hits, trials = 0, 150
    for _ in range(trials):
        hours = (np.log(DILUTION) + 1.0) / 0.4 + rng.normal(0, 0.3, 6)
        if looks is None:
            found = rate_from_dilutions(dilution=DILUTION, hours_to_mark=hours)
        else:
            low = np.floor(hours / looks) * looks
            found = rate_from_dilutions(dilution=DILUTION, low_hours=low, high_hours=low + looks)
        hits += found.low <= 0.4 <= found.high
    assert hits >= 120  # binomial(150, 0.9) is below 120 once in ten thousand times


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"dilution": [1.0, 5, 10], "hours_to_mark": [3, 4, 5]}, "must be above 1"),
        ({"dilution": [5, 10, 20], "hours_to_mark": [3, 4]}, "has 2 entries for 3 dilutions"),
        ({"dilution": [5, 10, 20], "hours_to_mark": [3, np.nan, 5]}, "jar 2 has hours nan"),
        ({"dilution": [5, 5, 5], "hours_to_mark": [3, 4, 5]}, "a rate needs different dilutions"),
        ({"dilution": [5, 10], "hours_to_mark": [3, 4]}, "one jar more"),
        ({"dilution": [5, 10, 20], "hours_to_mark": [5, 4, 3]}, "it must take longer"),
        ({"dilution": [5, 10, 20], "low_hours": [3, 5, 6], "high_hours": [4, 4.5, 7]}, "jar 2 has hours 5 to 4.5"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(given: dict[str, list[float]], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        rate_from_dilutions(**given)
