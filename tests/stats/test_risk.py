"""One row per jar and feed at risk."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.stats.recovery import risk_table


def outcomes(**changed: Any) -> pd.DataFrame:
    columns: dict[str, Any] = {
        "jar": ["a", "b", "c"],
        "feeds_to_recovery": [1, 3, np.nan],
        "feeds_observed": [1, 3, 2],
        "recovered": [True, True, False],
        "days_held": [7, 14, 21],
    }
    return pd.DataFrame({**columns, **changed})


def test_rows_run_to_recovery_or_to_the_end_of_watching() -> None:
    table = risk_table(outcomes())
    assert table[["jar", "feed", "recovered", "days_held"]].to_numpy().tolist() == [
        ["a", 1, 1, 7],
        ["b", 1, 0, 14],
        ["b", 2, 0, 14],
        ["b", 3, 1, 14],
        ["c", 1, 0, 21],
        ["c", 2, 0, 21],
    ]
    assert table.columns.tolist() == ["jar", "feed", "recovered", "days_held"]


@given(st.lists(st.tuples(st.integers(1, 12), st.booleans()), min_size=1, max_size=30))
def test_every_feed_at_risk_has_one_row_and_every_recovery_one_event(jars: list[tuple[int, bool]]) -> None:
    feeds, recovered = (np.array(part) for part in zip(*jars, strict=True))
    table = risk_table(
        pd.DataFrame(
            {
                "jar": np.arange(len(jars)),
                "feeds_to_recovery": np.where(recovered, feeds, np.nan),
                "feeds_observed": feeds,
                "recovered": recovered,
            }
        )
    )
    assert len(table) == feeds.sum()
    assert table["recovered"].sum() == recovered.sum()
    assert not table.duplicated(["jar", "feed"]).any()
    last = table.groupby("jar")["feed"].max()
    assert last.tolist() == feeds.tolist()


def test_a_jar_watched_for_no_feed_has_no_row() -> None:
    assert len(risk_table(outcomes(feeds_observed=[1, 3, 0]))) == 4


def test_nullable_columns_and_a_missing_count_of_feeds_are_read() -> None:
    nullable = outcomes(
        feeds_to_recovery=pd.array([1, 3, None], dtype="Int64"),
        recovered=pd.array([True, True, False], dtype="boolean"),
    )
    assert len(risk_table(nullable)) == 6
    counted = outcomes(feeds_to_recovery=[1, 3, 2]).drop(columns="feeds_observed")
    assert len(risk_table(counted)) == 6


def test_covariates_by_feed_join_by_jar_and_feed() -> None:
    by_feed = pd.DataFrame({"jar": ["a", "b", "b", "b"], "feed": [1, 1, 2, 3], "rye_fraction": [0.3, 0.3, 0.0, 0.0]})
    table = risk_table(outcomes(), by_feed=by_feed)
    assert table["rye_fraction"].fillna(-1).tolist() == [0.3, 0.3, 0.0, 0.0, -1, -1]
    with pytest.raises(ValueError, match="jar b, feed 1 twice"):
        risk_table(outcomes(), by_feed=pd.concat([by_feed, by_feed.iloc[[1]]]))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"jar": ["a", "a", "c"]}, "Jar a stands twice"),
        ({"feeds_to_recovery": [0, 3, np.nan]}, "Jar a has 0 feeds"),
        ({"feeds_to_recovery": [1, 2.5, np.nan]}, "Jar b has 2.5 feeds"),
        ({"feeds_to_recovery": [1, np.nan, np.nan]}, "Jar b has nan feeds"),
        ({"feeds_observed": [1, 3, -1]}, "Jar c has -1 feeds"),
        ({"feed": [1, 2, 3]}, "The outcomes have a column feed; the risk table counts the feeds"),
    ],
)
def test_outcomes_that_cannot_be_are_refused(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        risk_table(outcomes(**changed))


def test_a_missing_column_is_named() -> None:
    with pytest.raises(ValueError, match="no column recovered"):
        risk_table(outcomes().drop(columns="recovered"))
