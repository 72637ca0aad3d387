"""Cut a temperature history so finely that a growth rate is a short polynomial on every cut.

Each stretch is cut where the curve's form breaks; on each cut the rate is followed by a polynomial through ten
Gauss-Legendre points, and a cut is halved until the polynomial's last terms no longer matter. So there is no time step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
from numpy.polynomial import legendre

from fallow.maths.arguments import Array
from fallow.maths.pieces import Piece, split_hours

Index = npt.NDArray[np.intp]

POINTS = 10
NODES, WEIGHTS = legendre.leggauss(POINTS)
TO_LEGENDRE = (legendre.legvander(NODES, POINTS - 1) * WEIGHTS[:, None]) * (np.arange(POINTS) + 0.5)
_AT_ENDS = TO_LEGENDRE @ legendre.legvander(np.array([-1.0, 1.0]), POINTS - 1).T
_TOLERANCE_DOUBLINGS = 2e-8
_SHORTEST_HOURS = 1e-9


class Curve(Protocol):
    """A growth curve: anything that gives a rate per hour (natural log) for temperatures in degC.

    A curve that also has ``breaks_c`` (the temperatures where its form changes or jumps) is followed with fewer points.
    """

    def per_hour(self, *, temp_c: Any) -> Any:
        """Return the growth rate at each temperature."""
        ...


@dataclass(frozen=True, kw_only=True)
class Cuts:
    """Flat arrays, one entry a cut: its row (temperature offset), its piece, its hours within the piece, its rates."""

    row: Index
    piece: Index
    start_hours: Array
    end_hours: Array

    @property
    def hours(self) -> Array:
        """Length of each cut."""
        return self.end_hours - self.start_hours

    def only(self, chosen: npt.NDArray[np.bool_]) -> Cuts:
        """Return the chosen cuts."""
        return Cuts(
            row=self.row[chosen],
            piece=self.piece[chosen],
            start_hours=self.start_hours[chosen],
            end_hours=self.end_hours[chosen],
        )

    def halved(self) -> Cuts:
        """Return each cut as its two halves."""
        middle = (self.start_hours + self.end_hours) / 2.0
        return Cuts(
            row=np.tile(self.row, 2),
            piece=np.tile(self.piece, 2),
            start_hours=np.concatenate([self.start_hours, middle]),
            end_hours=np.concatenate([middle, self.end_hours]),
        )


def first_cuts(*, pieces: tuple[Piece, ...], breaks_c: Array, offsets_c: Array) -> Cuts:
    """Return every piece cut at its own split hours and where it, plus each offset, passes a break of the curve."""
    rows = np.arange(len(offsets_c))
    cuts = []
    for index, piece in enumerate(pieces):
        edges = np.broadcast_to(np.array(split_hours(piece)), (len(rows), len(split_hours(piece))))
        crossed = piece.hours_at(temp_c=breaks_c[None, :] - offsets_c[:, None])
        crossed = crossed[:, np.any(np.isfinite(crossed), axis=0)]
        if crossed.shape[1]:
            edges = np.sort(np.concatenate([edges, np.where(np.isnan(crossed), piece.hours, crossed)], axis=1), axis=1)
        row, column = np.nonzero(np.diff(edges, axis=1) > 0)
        cuts.append((rows[row], np.full(len(row), index), edges[row, column], edges[row, column + 1]))
    row, which, start, end = (np.concatenate(parts) for parts in zip(*cuts, strict=True))
    return Cuts(row=row, piece=which, start_hours=start, end_hours=end)


def settle(*, pieces: tuple[Piece, ...], curve: Curve, offsets_c: Array) -> tuple[Cuts, Array]:
    """Return the cuts on which the rate is a polynomial to 2e-8 doublings, and the rates at their ten points."""
    breaks = getattr(curve, "breaks_c", None)
    known = breaks is not None
    todo = first_cuts(pieces=pieces, breaks_c=np.asarray(breaks if known else (), dtype=float), offsets_c=offsets_c)
    settled, rates = [todo.only(np.zeros(len(todo.row), dtype=bool))], [np.empty((0, POINTS))]
    table = _table(pieces)
    while len(todo.row):
        rate = _rates(table, curve, todo, offsets_c, NODES)
        rough = _last_terms(rate)
        if not known:
            rough = np.maximum(rough, _missed_at_ends(rate, _rates(table, curve, todo, offsets_c, _ENDS)))
        done = (rough * todo.hours <= _TOLERANCE_DOUBLINGS) | (todo.hours <= _SHORTEST_HOURS)
        settled.append(todo.only(done))
        rates.append(rate[done])
        todo = todo.only(~done).halved()
    return _joined(settled), np.concatenate(rates)


_ENDS = np.array([-1.0, 1.0])


def _table(pieces: tuple[Piece, ...]) -> Array:
    return np.array([[p.base_c, p.slope_c_per_hour, p.excess_c, p.time_constant_hours] for p in pieces]).T


def _rates(table: Array, curve: Curve, cuts: Cuts, offsets_c: Array, points: Array) -> Array:
    base, slope, excess, constant = (column[cuts.piece][:, None] for column in table)
    since = cuts.start_hours[:, None] + cuts.hours[:, None] * ((points + 1.0) / 2.0)
    temp = base + offsets_c[cuts.row][:, None] + slope * since + excess * np.exp(-since / constant)
    rate = np.broadcast_to(np.asarray(curve.per_hour(temp_c=temp), dtype=float), temp.shape)
    wrong = ~((rate >= 0) & np.isfinite(rate))
    if np.any(wrong):
        message = (
            f"the growth curve gives {rate[wrong].flat[0]:g} per hour at {temp[wrong].flat[0]:g} °C; "
            "a rate is a finite number of zero or more. Check the curve."
        )
        raise ValueError(message)
    return rate


def _last_terms(rate: Array) -> Array:
    """Return what the last two Legendre terms can add to a running integral, per hour of the cut."""
    last = np.abs(rate @ TO_LEGENDRE[:, -2:])
    return np.asarray(last.sum(axis=1) / (2.0 * (2.0 * POINTS - 3.0)))


def _missed_at_ends(rate: Array, seen: Array) -> Array:
    """Return how far the polynomial misses the curve at the cut's ends, where an unannounced jump could hide."""
    return np.asarray(np.abs(rate @ _AT_ENDS - seen).max(axis=1) * 0.02)


def _joined(cuts: list[Cuts]) -> Cuts:
    return Cuts(
        row=np.concatenate([cut.row for cut in cuts]),
        piece=np.concatenate([cut.piece for cut in cuts]),
        start_hours=np.concatenate([cut.start_hours for cut in cuts]),
        end_hours=np.concatenate([cut.end_hours for cut in cuts]),
    )
