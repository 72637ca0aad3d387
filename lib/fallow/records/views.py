"""The tables as the other floors see them: rows that count, instants in UTC, each flour's grams beside its feed."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from fallow.records.cells import ROW
from fallow.records.checks import keys_of, live

# A row whose parent is withdrawn does not count either: (table, key of the parent), nearest first.
_PARENTS = {
    "feeds": ("jars", ["jar"]),
    "readings": ("feeds", ["jar", "feed"]),
    "feed_flours": ("feeds", ["jar", "feed"]),
}


def counting(*, name: str, frames: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Return the rows of a table that are not withdrawn, nor belong to a row that is."""
    rows = frames[name]
    rows = rows[live(rows)]
    if name in _PARENTS:
        above, key = _PARENTS[name]
        parents = counting(name=above, frames=frames)
        if len(parents) < len(frames[above]):
            known = set(keys_of(rows=parents, columns=key))
            # an empty list of truths would choose no columns in place of no rows
            rows = rows[np.array([one in known for one in keys_of(rows=rows, columns=key)], dtype=bool)]
    return rows.reset_index(drop=True)


def plain(rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows without the library's own row number."""
    return rows.drop(columns=[ROW])


def with_flours(*, feeds: pd.DataFrame, flours: pd.DataFrame) -> pd.DataFrame:
    """Return feeds with ``<flour>_g`` for each flour of the record, ``flour_g`` in all, and ``dilution``.

    In this wide view a flour that a feed does not name is 0 g; a feed of which no flour is written down has nan.
    """
    wide = feeds.copy()
    names = list(dict.fromkeys(flours["flour"]))
    keys = pd.MultiIndex.from_frame(feeds[["jar", "feed"]])
    grams = flours.pivot_table(index=["jar", "feed"], columns="flour", values="grams", aggfunc="sum", observed=True)
    known = keys.isin(grams.index) if len(grams) else np.zeros(len(feeds), dtype=bool)
    for name in names:
        column = grams[name].reindex(keys).to_numpy(dtype=float)
        wide[f"{name}_g"] = np.where(known, np.nan_to_num(column), np.nan)
    total = wide[[f"{name}_g" for name in names]].sum(axis=1).to_numpy() if names else np.zeros(len(feeds))
    wide["flour_g"] = np.where(known, total, np.nan)
    wide["dilution"] = (wide["seed_g"] + wide["water_g"] + wide["flour_g"]) / wide["seed_g"]
    return wide
