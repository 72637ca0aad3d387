"""From what and when seed may be taken: the limits of the law, the old jar, and what a search asks of any source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from fallow.plans.kitchen import Kitchen

Array = npt.NDArray[np.float64]
Draw32 = npt.NDArray[np.float32]

EARLY, LATE = 0.5, 2.0
OWED_LIMIT = 0.5
LEAST_LOG = float(np.log2(3.0))
MOST_LOG = 7.0


class Source(Protocol):
    """What the first feed takes its seed from."""

    @property
    def cold_at(self) -> float:
        """The hour at which the plan sends it to the cold, or it went there; inf where it is no act of the plan."""

    @property
    def cold(self) -> bool:
        """Whether its seed comes cold from the fridge."""

    @property
    def owed_then(self) -> Array:
        """What is owed to begin with, a value a draw: by the old jar, or by the seed of the feed that stands."""

    def in_kitchen(self, kitchen: Kitchen) -> Source:
        """Return the same source in another kitchen."""

    def owed(self, hours: Array) -> Draw32:
        """Return the doublings owed at each hour: a row per hour, a column per draw."""

    def fit(self, hours: Array) -> npt.NDArray[np.bool_]:
        """Return whether seed may be taken at each hour."""

    def sent_to_the_cold(self, *, at: float) -> Source:
        """Return the same source, in the cold from that hour on."""

    def trips(self, slots: Array, *, end: float) -> Array:
        """Return the slots at which it may go to the cold; none where it is there already, or need not go before ``end``."""

    def ready_chance(self, *, hours: float) -> float:
        """Return the share of draws in which the source itself is ready for dough at an hour."""


@dataclass(frozen=True, kw_only=True)
class OldJar:
    """The jar from the cold: what it owes does not move within a plan's hours, and seed may be taken at any time."""

    owed_then: Array

    def in_kitchen(self, kitchen: Kitchen) -> OldJar:
        """Return the jar itself: it lies in the cold until its seed is taken."""
        return self

    @property
    def cold_at(self) -> float:
        """Return that its rest is no act of the plan."""
        return np.inf

    @property
    def cold(self) -> bool:
        """Return that its seed is cold."""
        return True

    def owed(self, hours: Array) -> Draw32:
        """Return what the jar owes, the same at each hour."""
        return np.broadcast_to(self.owed_then.astype(np.float32), (len(hours), len(self.owed_then)))

    def fit(self, hours: Array) -> npt.NDArray[np.bool_]:
        """Return that seed may be taken at any hour."""
        return np.ones(len(hours), dtype=bool)

    def sent_to_the_cold(self, *, at: float) -> OldJar:
        """Return the jar itself: it is there."""
        return self

    def trips(self, slots: Array, *, end: float) -> Array:
        """Return no hour."""
        return slots[:0]

    def ready_chance(self, *, hours: float) -> float:
        """Return that a jar straight from the cold is not ready for dough, whatever the hour."""
        return 0.0
