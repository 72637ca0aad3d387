"""How jars were watched: feed after feed until one recovers or the watching ends, and what that does to estimates."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.stats.links import Link
from fallow.stats.recovery_fit import RecoveryFit

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Watching:
    """Kinds of jars.

    ``jars`` counts each kind; ``rows``, of shape (kinds, feeds, columns), are its covariates in the fit's own coordinates
    at the feeds it was to be watched for (``planned``).
    """

    rows: Floats
    planned: Bools
    jars: Floats
    link: Link

    def pull(self, beta: Floats) -> tuple[Floats, Floats]:
        """Give the adjustment A that takes the bias of first order out of the score, and the expected information F.

        A_r = tr(F^-1 E[U U' U_r - J U_r]) / 2, U the score and J the observed information of all jars (Kosmidis & Firth
        2009). A jar has as many outcomes as feeds it was to be watched for and one more, so each expectation is a sum over
        them. Feeds at risk are not fixed numbers here: a jar that recovers late has more of them.
        """
        chance, score, curvature = self.outcomes(beta)
        weight = self.jars[:, None] * chance
        information = np.einsum("ko,kop,koq->pq", weight, score, score)
        tilt = np.einsum("kop,koq,pq->ko", score, score, inverse := np.linalg.inv(information))
        tilt -= np.einsum("kopq,pq->ko", curvature, inverse)
        return 0.5 * np.einsum("ko,ko,kor->r", weight, tilt, score), information

    def outcomes(self, beta: Floats) -> tuple[Floats, Floats, Floats]:
        """Give chance, score and observed information of each outcome: recovered at feed 1, 2, ..., or not at all."""
        kinds, feeds, columns = self.rows.shape
        at = self.link.pieces((beta @ self.rows.reshape(-1, columns).T)[None, :])
        total, slope, curve = (
            np.where(self.planned, part.reshape(kinds, feeds), 0.0) for part in (at.cumulative, at.slope, at.curve)
        )
        left = np.column_stack([np.ones(kinds), np.exp(-np.cumsum(total, axis=1))])
        hazard = -np.expm1(-total)
        recovered = np.where(self.planned, np.exp(-total) / np.where(hazard > 0, hazard, 1.0), 0.0)
        square = self.rows[..., :, None] * self.rows[..., None, :]
        missed = _before(-slope[..., None] * self.rows)
        flat = _before(curve[..., None, None] * square)
        score = missed.copy()
        score[:, :-1] += (slope * recovered)[..., None] * self.rows
        curvature = flat.copy()
        with np.errstate(over="ignore", invalid="ignore"):  # e^-c goes to 0 before c'^2 and c'' leave the range
            bent = np.where(recovered > 0, recovered * (slope**2 / np.where(hazard > 0, hazard, 1.0) - curve), 0.0)
        curvature[:, :-1] += bent[..., None, None] * square
        return np.column_stack([left[:, :-1] * hazard, left[:, -1]]), score, curvature


def watching(fit: RecoveryFit, *, planned_feeds: int | None = None) -> Watching:
    """Read off a fit how its jars were watched.

    A jar that did not recover was watched for the feeds it has. One that did would have been watched on, at the covariates
    of its last feed, until feed ``planned_feeds`` (left out: the last feed on record). Our choice.
    """
    until = fit.patterns.last_feed if planned_feeds is None else planned_feeds
    counted = _kinds(fit)
    tails = [_to_come(fit, pattern=kind[-1], seen=len(kind), until=until) if on else [] for kind, on in counted]
    tables = [_table(fit, kind, tail) for (kind, _), tail in zip(counted, tails, strict=True)]
    matrix = fit.design.rows(fit.recipe.matrix(pd.concat(tables, ignore_index=True))[1])
    length = np.array([len(kind) + len(tail) for (kind, _), tail in zip(counted, tails, strict=True)])
    planned = np.arange(length.max()) < length[:, None]
    rows = np.zeros((*planned.shape, matrix.shape[1]))
    rows[planned] = matrix
    return Watching(rows, planned, np.array(list(counted.values()), dtype=float), fit.likelihood.link)


def _before(parts: Floats) -> Floats:
    """Sum along the feeds up to, and without, each; the last entry sums all of them."""
    return np.concatenate([np.zeros_like(parts[:, :1]), np.cumsum(parts, axis=1)], axis=1)


def _kinds(fit: RecoveryFit) -> Counter[tuple[tuple[int, ...], bool]]:
    """Count the jars that went through the same patterns in the same order and ended alike (recovered or not)."""
    patterns = fit.patterns
    feed = patterns.rows["feed"].to_numpy()[patterns.place] if "feed" in patterns.rows else np.zeros(len(patterns.kept))
    jar = pd.factorize(patterns.jar)[0]
    order = np.lexsort([patterns.recovered, feed, jar])
    ends = np.flatnonzero(np.diff(jar[order], append=-1)) + 1
    places = np.split(patterns.place[order], ends[:-1])
    return Counter(
        (tuple(place.tolist()), bool(on)) for place, on in zip(places, patterns.recovered[order][ends - 1], strict=True)
    )


def _to_come(fit: RecoveryFit, *, pattern: int, seen: int, until: int) -> list[int]:
    """List the feeds on record after a jar's last, up to the end of the watching."""
    if "feed" not in fit.patterns.rows:
        return list(range(seen + 1, until + 1))
    last = int(fit.patterns.rows["feed"].iloc[pattern])
    return [feed for feed in fit.feeds if last < feed <= until]


def _table(fit: RecoveryFit, kind: tuple[int, ...], tail: list[int]) -> pd.DataFrame:
    rows = fit.patterns.rows.iloc[[*kind, *[kind[-1]] * len(tail)]]
    if "feed" not in rows:
        return rows
    return rows.assign(feed=[*rows["feed"].iloc[: len(kind)], *tail])
