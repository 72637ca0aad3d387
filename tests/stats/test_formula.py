"""Formulas are read, never run; their columns are those of patsy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import patsy
import pytest

from fallow.stats.coding import learn
from fallow.stats.formula import read_formula
from fallow.stats.recovery import fit_recovery

TABLE = pd.DataFrame(
    {
        "jar": range(8),
        "feed": [1, 2, 3, 1, 2, 3, 1, 2],
        "rye": [0.0, 0.1, 0.3, 0.2, 0.3, 0.0, 0.1, 0.2],
        "days": [4, 7, 14, 28, 56, 4, 7, 14],
        "culture": list("abcabcab"),
        "recovered": [0, 1, 0, 1, 1, 0, 1, 0],
    }
)


@pytest.mark.parametrize(
    "formula",
    [
        "C(feed) + rye",
        "rye + np.log1p(days) + np.log(feed)",
        "0 + C(feed) + rye",
        "C(feed) + standardize(days)",
        "C(feed) + rye + C(feed):rye",
        "culture + rye:days",
        "C(feed) + C(culture) + C(feed):C(culture)",
        "1",
    ],
)
def test_names_and_columns_are_those_of_patsy(formula: str) -> None:
    ours = learn(read_formula(formula), TABLE, np.ones(len(TABLE)))
    names, matrix = ours.matrix(TABLE)
    theirs = patsy.dmatrix(formula, TABLE)
    mine = dict(zip(names, matrix.T, strict=True))
    assert set(mine) == set(theirs.design_info.column_names)
    for name, column in zip(theirs.design_info.column_names, np.asarray(theirs).T, strict=True):
        assert mine[name] == pytest.approx(column)


def test_counts_stand_for_rows_in_a_standardized_column() -> None:
    doubled = pd.concat([TABLE, TABLE.iloc[:3]])
    counts = np.r_[np.full(3, 2.0), np.ones(5)]
    ours = learn(read_formula("standardize(days)"), TABLE, counts).matrix(TABLE)[1]
    theirs = np.asarray(patsy.dmatrix("standardize(days)", doubled))[: len(TABLE)]
    assert ours == pytest.approx(theirs)


HOSTILE = [
    "0",
    "__import__('os').system('touch owned')",
    "C(feed) + open('owned', 'w')",
    "C(feed) + rye.mean()",
    "C(feed) + np.exp(rye)",
    "np.log1p(open('owned', 'w'))",
    "C(feed, Treatment(2))",
    "C(feed)[0]",
    "(lambda: 1)()",
    "[x for x in 'ab']",
    "rye if rye else days",
    "rye - days",
    "rye * days",
    "rye ** 2",
    "rye @ days",
    "-1 + rye",
    "2 + rye",
    "True + rye",
    "'rye'",
    "f'{rye}'",
    "(rye := 3)",
    "recovered ~ rye",
    "rye; days",
    "",
    "   ",
    "rye +",
    "C()",
    "C(*feed)",
    "C(feed=1)",
    "np.log(np.log(days))",
    "1or rye",
    "rye\x00",
    "(" * 300 + "rye" + ")" * 300,
    "+".join(["rye"] * 400),
    "`rye`",
    "Q('rye')",
    "I(rye)",
]


@pytest.mark.parametrize("text", HOSTILE, ids=[repr(text[:30]) for text in HOSTILE])
def test_anything_but_a_sum_of_columns_is_refused_and_not_evaluated(
    text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ValueError, match="Write a sum of columns") as refusal:
        fit_recovery(TABLE, text)
    assert "\n" not in str(refusal.value)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("formula", "said"),
    [
        ("heron", "The formula names heron"),
        ("np.log(culture)", "needs numbers"),
        ("np.log(rye)", "no value at 0"),
        ("hours", "hours is inf in some rows; a covariate is a finite number"),
        ("standardize(hours)", "hours is inf in some rows"),
    ],
)
def test_a_column_that_cannot_be_used_is_named(formula: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        fit_recovery(TABLE.assign(hours=[12.0, np.inf] + [8.0] * 5 + [np.inf]), formula)


def test_a_term_written_twice_counts_once() -> None:
    assert read_formula("rye + days + rye + days:rye + rye:days").terms == read_formula("rye + days + days:rye").terms
