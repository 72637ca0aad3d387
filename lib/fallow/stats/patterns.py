"""Jars that look alike are counted, not listed: a risk table as covariate patterns with counts."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Patterns:
    """Distinct rows of covariates; ``at_risk`` and ``events`` count the rows of the risk table each stands for.

    ``place`` leads from each row kept of the risk table to its pattern, ``kept`` are those rows' numbers;
    ``last_feed`` is the last feed any jar was seen at.
    """

    rows: pd.DataFrame
    at_risk: Floats
    events: Floats
    place: npt.NDArray[np.intp]
    kept: npt.NDArray[np.intp]
    last_feed: int
    jar: pd.Series = field(repr=False)
    recovered: Floats = field(repr=False)

    @cached_property
    def jars(self) -> int:
        """How many jars the rows belong to; counted when asked, for it costs more than a fit when there are many."""
        return int(self.jar.nunique())

    def fewer_jars_than(self, number: int) -> bool:
        """Say whether there are fewer, without counting where the rows alone decide (a jar has a row per feed)."""
        return len(self.kept) < number * self.last_feed and self.jars < number

    def only(self, wanted: npt.NDArray[np.bool_]) -> Patterns:
        """Keep some of the patterns, and the rows of the risk table that lead to them."""
        number = np.cumsum(wanted) - 1
        stays = wanted[self.place]
        rows = self.rows[wanted].reset_index(drop=True)
        place, kept = number[self.place[stays]], self.kept[stays]
        return replace(
            self,
            rows=rows,
            jar=self.jar[stays],
            recovered=self.recovered[stays],
            at_risk=self.at_risk[wanted],
            events=self.events[wanted],
            place=place,
            kept=kept,
        )

    def recounted(self, at_risk: Floats, events: Floats) -> Patterns:
        """Keep the patterns and change their counts, as when a jar is left out."""
        return replace(self, at_risk=at_risk, events=events)


def collapse(table: pd.DataFrame, columns: tuple[str, ...]) -> Patterns:
    """Count the rows of a risk table that have the same values in ``columns``; rows with one missing are left out.

    The likelihood depends on the rows only through these counts, so nothing is lost (binomial sufficiency).
    """
    recovered = _zero_or_one(table)
    codes = np.zeros(len(table), dtype=np.int64)
    whole = np.ones(len(table), dtype=bool)
    for name in columns:
        if name not in table:
            message = (
                f"The formula names {name}; the risk table has {', '.join(map(str, table.columns))}. Choose from these."
            )
            raise ValueError(message)
        code, levels = pd.factorize(table[name])
        whole &= code >= 0
        codes = codes * (len(levels) + 1) + code
        if codes.max(initial=0) > 2**40:
            codes = np.unique(codes, return_inverse=True)[1].astype(np.int64)
    kept = np.flatnonzero(whole)
    if not len(kept):
        message = "The risk table has no row with all of the formula's columns filled; one is needed. Record more jars."
        raise ValueError(message)
    _, first, place = np.unique(codes[kept], return_index=True, return_inverse=True)
    at_risk = np.bincount(place).astype(float)
    events = np.bincount(place, weights=recovered[kept]).astype(float)
    rows = table.iloc[kept[first]][list(columns)].reset_index(drop=True)
    last = int(table["feed"].iloc[kept].max()) if "feed" in table else 1
    return Patterns(rows, at_risk, events, place, kept, last, table["jar"].iloc[kept], recovered[kept])


def _zero_or_one(table: pd.DataFrame) -> Floats:
    if "recovered" not in table or "jar" not in table:
        message = "The table lacks jar or recovered; a fit needs a risk table. Make one with risk_table(outcomes)."
        raise ValueError(message)
    recovered = table["recovered"].to_numpy(dtype=float)
    if not np.isin(recovered, (0.0, 1.0)).all():
        message = f"recovered holds {recovered[~np.isin(recovered, (0.0, 1.0))][0]:g}; it is 0 or 1. Correct that row."
        raise ValueError(message)
    return recovered
