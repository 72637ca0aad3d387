"""The peak of plain likelihood: statsmodels' search, our own Newton steps and R's glm are three roads to one place."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fallow.stats import recovery
from fallow.stats.likelihood import HazardLikelihood, highest
from fallow.stats.links import CLOGLOG, LOGIT
from fallow.stats.plain_peak import plain_peak
from fallow.stats.recovery import fit_recovery

BOTH = pytest.mark.parametrize("link", [CLOGLOG, LOGIT])


def counted(seed: int, link: Any, rows: int = 60) -> HazardLikelihood:
    """Invented counts of so many patterns with three coefficients."""
    rng = np.random.default_rng(seed)
    matrix = np.column_stack([np.ones(rows), rng.normal(size=(rows, 2))])
    at_risk = rng.integers(1, 9, rows).astype(float)
    events = rng.binomial(at_risk.astype(int), -np.expm1(-np.exp(matrix @ [-0.6, 0.5, -0.3]))).astype(float)
    return HazardLikelihood(matrix, at_risk, events, link, jeffreys=False)


@BOTH
@given(st.integers(0, 10_000))
@settings(max_examples=25)
def test_statsmodels_and_our_own_newton_steps_meet(link: Any, seed: int) -> None:
    likelihood = counted(seed, link)
    theirs, ours = plain_peak(likelihood, np.zeros(3)), highest(likelihood, np.zeros(3))
    assert theirs.settled
    assert theirs.beta == pytest.approx(ours.beta, abs=1e-8)
    assert theirs.value == pytest.approx(ours.value, abs=1e-9)


def arms(events: list[int], at_risk: list[int]) -> pd.DataFrame:
    parts = [
        pd.DataFrame({"jar": [f"{x}-{i}" for i in range(n)], "feed": 1, "x": x, "recovered": [1] * e + [0] * (n - e)})
        for x, (e, n) in enumerate(zip(events, at_risk, strict=True))
    ]
    return pd.concat(parts, ignore_index=True)


@BOTH
@pytest.mark.parametrize(
    ("events", "says"),
    [
        ([0, 5], "has no finite estimate here, so the Jeffreys penalty was used"),
        ([5, 5], "has no finite estimate here, so the Jeffreys penalty was used"),
        ([0, 0], "has no finite estimate here, so the Jeffreys penalty was used"),
        ([0, 3], "5 rows left out: a hazard of 0 or 1 fits them exactly"),
        ([2, 5], "5 rows left out: a hazard of 0 or 1 fits them exactly"),
    ],
)
def test_where_there_is_no_peak_a_sentence_says_so_and_no_warning_escapes(
    link: Any, events: list[int], says: str
) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        fit = fit_recovery(arms(events, [5, 5]), "x", jeffreys=False, link=link)
    assert any(says in note for note in fit.notes)
    assert np.isfinite(fit.coefficients.to_numpy()).all()


def test_only_plain_likelihood_asks_statsmodels(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr(recovery, "plain_peak", lambda *given: asked.append(given) or plain_peak(*given))
    table = arms([2, 3], [5, 5])
    fit_recovery(table, "x", jeffreys=True)
    assert asked == []
    fit_recovery(table, "x", jeffreys=False)
    assert len(asked) == 1
