"""Beginnings of chains, many at a time: each feed so far, what it leaves owed, and the hour the next seed is taken."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fallow.plans.draws import middles
from fallow.plans.kitchen import Kitchen
from fallow.plans.seeds import EARLY, LATE, LEAST_LOG, MOST_LOG, Draw32, Source
from fallow.plans.trips import likely_trips

Array = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

_HEADROOM = 0.5


@dataclass(frozen=True, kw_only=True)
class States:
    """Chains so far: the hour at which the next seed is taken, what is owed then, and the feeds behind it.

    ``cold`` is the hour at which each feed went to the cold, ``source_cold`` that of the first seed's own jar (inf: not);
    ``cold_seed`` says whether the next seed comes from the fridge.
    """

    hours: Array
    owed: Draw32
    logs: Array
    at: Array
    place: Rows
    cold: Array
    source_cold: Array
    cold_seed: Flags

    def taken(self, rows: Rows | Flags) -> States:
        """Return some of the chains."""
        return States(**{name: values[rows] for name, values in vars(self).items()})

    @property
    def trips(self) -> Rows:
        """Return how often each chain goes to the cold."""
        return np.asarray(np.isfinite(self.cold).sum(axis=1) + np.isfinite(self.source_cold))


def begun(*, source: Source, slots: Array, trips: Array) -> States:
    """Return the chains that have no feed yet: one for each hour at which the first may be made.

    For each hour of ``trips`` also those whose first seed's jar goes to the cold then.
    """
    sources = [source, *(source.sent_to_the_cold(at=float(hour)) for hour in trips)]
    return joined([_first(some, slots) for some in sources])


def _first(source: Source, slots: Array) -> States:
    hours = slots[source.fit(slots)]
    none = np.zeros((len(hours), 0))
    return States(
        hours=hours,
        owed=source.owed(hours),
        logs=none,
        at=none,
        place=none.astype(np.intp),
        cold=none,
        source_cold=np.full(len(hours), source.cold_at if source.cold_at >= 0 else np.inf),
        cold_seed=np.full(len(hours), source.cold),
    )


def joined(parts: list[States]) -> States:
    """Return chains of several kinds as one table."""
    return States(**{name: np.concatenate([vars(part)[name] for part in parts]) for name in vars(parts[0])})


def extended(
    *,
    states: States,
    place: int,
    slots: Array,
    kitchen: Kitchen,
    ripening: Array,
    missed: Array | float = 0.0,
    carried: Array | float = 0.0,
) -> States:
    """Return every chain with one more feed in ``place``, its seed taken at each later slot at which it may be.

    ``missed`` are the doublings that a mix colder than its place loses while it warms, ``carried`` the share of what a seed
    owed that is owed still when its feed is ripe.
    """
    row, slot = _likely_pairs(states=states, place=place, slots=slots, kitchen=kitchen, ripening=ripening)
    until = slots[slot]
    earned = kitchen.earned_roughly(place=place, start=states.hours[row], end=until)
    take_missed(earned, states=states, row=row, missed=missed)
    never = np.full(len(row), np.inf)
    return _longer(
        states, row=row, place=place, until=until, cold=never, earned=earned, ripening=ripening, carried=carried
    )


def extended_by_trips(
    *,
    states: States,
    place: int,
    slots: Array,
    kitchen: Kitchen,
    ripening: Array,
    missed: Array | float = 0.0,
    carried: Array | float = 0.0,
) -> States:
    """Return every chain with one more feed in ``place`` that goes to the cold before its seed is taken."""
    owed = middles(states.owed)
    row, chilled, slot = likely_trips(
        hours=states.hours,
        owed=owed,
        place=place,
        slots=slots,
        acts=slots,
        wanted=LEAST_LOG + LATE,
        kitchen=kitchen,
        ripening=float(np.median(ripening)),
    )
    until, cold = slots[slot], slots[chilled]
    earned = kitchen.earned_roughly(place=place, start=states.hours[row], end=cold)
    take_missed(earned, states=states, row=row, missed=missed)
    earned += kitchen.earned_chilled_roughly(place=place, hours=until - cold)
    longer = _longer(
        states, row=row, place=place, until=until, cold=cold, earned=earned, ripening=ripening, carried=carried
    )
    taken = kitchen.taken_by_cold(hours=longer.hours - longer.cold[:, -1])
    return replace(
        longer, owed=longer.owed + taken.astype(np.float32), cold_seed=np.ones(len(longer.hours), dtype=bool)
    )


def take_missed(earned: Draw32, *, states: States, row: Rows, missed: Array | float) -> None:
    """Take off what the next mix of each chain misses, in place: that of a cold seed; a warm one misses nothing."""
    cold = states.cold_seed[row]
    if np.any(missed) and cold.any():
        earned[cold] -= np.atleast_1d(missed).astype(np.float32)


def _longer(
    states: States,
    *,
    row: Rows,
    place: int,
    until: Array,
    cold: Array,
    earned: Draw32,
    ripening: Array,
    carried: Array | float,
) -> States:
    """Return chains one feed longer, its dilution the least allowed: max(3, 2 doublings past ripe).

    That costs least and repays most (derived). Feeds that are not within half a doubling of ripe are left out.
    """
    # Thousands of chains by hundreds of draws: what can be done in place is.
    ahead = earned - states.owed[row]
    past = middles(ahead - ripening.astype(np.float32))
    logs = np.maximum(LEAST_LOG, past - LATE)
    fits = logs <= np.minimum(past + EARLY, MOST_LOG)
    row, until, cold, logs = row[fits], until[fits], cold[fits], logs[fits]
    left = ahead[fits]
    np.subtract(logs[:, None].astype(np.float32), left, out=left)
    kept = states.owed[row] * np.asarray(carried, dtype=np.float32) if np.any(carried) else np.float32(0.0)
    np.maximum(left, kept, out=left)
    return States(
        hours=until,
        owed=left,
        logs=np.column_stack([states.logs[row], logs]),
        at=np.column_stack([states.at[row], states.hours[row]]),
        place=np.column_stack([states.place[row], np.full(len(row), place)]),
        cold=np.column_stack([states.cold[row], cold]),
        source_cold=states.source_cold[row],
        cold_seed=np.zeros(len(row), dtype=bool),
    )


def _likely_pairs(*, states: States, place: int, slots: Array, kitchen: Kitchen, ripening: Array) -> tuple[Rows, Rows]:
    """Return chain and slot of the pairs that the middle of the draws does not rule out."""
    start, end = states.hours[:, None], slots[None, :]
    day = kitchen.span.day(end) - kitchen.span.day(start)
    middle = day * np.median(kitchen.day_rates[place]) + (end - start - day) * np.median(kitchen.night_rates[place])
    past = middle - middles(states.owed)[:, None] - np.median(ripening)
    likely = (end > start) & (past >= LEAST_LOG - EARLY - _HEADROOM) & (past <= MOST_LOG + LATE + _HEADROOM)
    row, slot = np.nonzero(likely)
    return row, slot
