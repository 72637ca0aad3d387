"""Which jar of the invented trial gets what: a third of a full factorial, in four recovery days, cultures spread evenly."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product
from statistics import NormalDist

HOLD_DAYS = (4, 7, 14, 21, 28, 42, 56)
CULTURES = ("fulmar", "kittiwake", "razorbill")
BLOCKS = 4
# Which two contrasts of (hold temperature, rye, place, fed) split a hold's sixteen jars into four days. The pair rotates
# with the hold, so that each two-factor interaction is mixed with the days in one or two holds of seven, never in all.
CONTRASTS = (
    ((0, 1, 2), (0, 1, 3)),
    ((0, 1, 2), (1, 2, 3)),
    ((0, 1, 2), (0, 2, 3)),
    ((0, 2, 3), (1, 2, 3)),
    ((0, 1, 3), (1, 2, 3)),
    ((0, 1, 3), (0, 2, 3)),
)


@dataclass(frozen=True)
class Stream:
    """Draws that depend on a seed and a name only, so that they are the same on every machine and in any order.

    A draw is the first 53 bits of SHA-256 over "seed/name/name/...", and the normal one its quantile (our choice).

    >>> draws = Stream(seed=1)
    >>> 0 < draws.uniform("jar 1", "rise") < 1, draws.uniform("a") == draws.uniform("a")
    (True, True)
    """

    seed: int

    def uniform(self, *names: object) -> float:
        """Return a number strictly between 0 and 1."""
        text = "/".join(str(part) for part in (self.seed, *names))
        bits = int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big") >> 11
        return (bits + 0.5) / 2**53

    def normal(self, *names: object) -> float:
        """Return a standard normal number."""
        return NormalDist().inv_cdf(self.uniform(*names))


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One jar of the plan: its treatment, its recovery day (block) and its place in that day's order."""

    hold_days: int
    hold_temp_c: float
    rye_fraction: float
    place_temp_c: float
    at_peak: bool
    bench_hours: float
    block: int
    culture: str = ""
    position: int = 0
    jar: str = ""

    @property
    def treatment(self) -> str:
        """The treatment in one line, as plan.csv and jars.csv carry it."""
        flour = "a third rye" if self.rye_fraction else "white"
        fed = "at the peak" if self.at_peak else "every 12 h"
        return f"{self.hold_days} d at {self.hold_temp_c:g} °C; {flour}; {self.place_temp_c:g} °C; fed {fed}"


def plan(*, draws: Stream) -> list[Cell]:
    """Return the 112 jars in the order of their numbers: block by block, shuffled within by hash.

    7 holds x 2 hold temperatures x 2 flours x 2 places x 2 ways of feeding = 112 cells, each once, so each with one of
    three cultures: a third of the full factorial of 336. Derived; the arrangement is our choice.

    >>> jars = plan(draws=Stream(seed=1))
    >>> len(jars), sorted(Counter(jar.block for jar in jars).values())
    (112, [28, 28, 28, 28])
    """
    cells = _spread_cultures(_cells())
    cells.sort(key=lambda cell: (cell.block, draws.uniform("order", cell.block, cell.treatment)))
    per_block = len(cells) // BLOCKS
    return [replace(cell, position=i % per_block + 1, jar=f"J{i + 1:03d}") for i, cell in enumerate(cells)]


def _cells() -> list[Cell]:
    cells = []
    for hold, levels in product(range(len(HOLD_DAYS)), product((0, 1), repeat=4)):
        first, second = CONTRASTS[hold % len(CONTRASTS)]
        block = 1 + 2 * (sum(levels[i] for i in first) % 2) + sum(levels[i] for i in second) % 2
        temp, rye, place, fed = levels
        cells.append(
            Cell(
                hold_days=HOLD_DAYS[hold],
                hold_temp_c=(3.0, 7.0)[temp],
                rye_fraction=(0.0, 1 / 3)[rye],
                place_temp_c=(21.0, 27.0)[place],
                at_peak=bool(fed),
                # the product of the four two-level factors: free of each of them and of each pair
                bench_hours=(2.0, 4.5)[sum(levels) % 2],
                block=block,
            )
        )
    return cells


def margins(cell: Cell) -> list[tuple[object, ...]]:
    """Return every level, and every pair of levels, that a jar belongs to: what the cultures are balanced over."""
    levels = (
        ("hold", cell.hold_days),
        ("cold", cell.hold_temp_c),
        ("rye", cell.rye_fraction),
        ("place", cell.place_temp_c),
        ("fed", cell.at_peak),
        ("bench", cell.bench_hours),
        ("block", cell.block),
    )
    return [*levels, *combinations(levels, 2)]


def _spread_cultures(cells: Sequence[Cell]) -> list[Cell]:
    """Give each jar the culture that its levels have seen least; then trade until no trade makes the counts more even."""
    counts: Counter[tuple[object, ...]] = Counter()

    def weight(index: int, culture: str) -> int:
        return sum(counts[culture, margin] for margin in margins(cells[index]))

    def move(index: int, culture: str, step: int) -> None:
        for margin in margins(cells[index]):
            counts[culture, margin] += step

    chosen: list[str] = []
    for index in range(len(cells)):
        chosen.append(min(CULTURES, key=lambda culture: weight(index, culture)))
        move(index, chosen[index], 1)
    improved = True
    while improved:
        improved = False
        for index, old in enumerate(chosen):
            move(index, old, -1)
            chosen[index] = min(CULTURES, key=lambda culture: (weight(index, culture), culture != old))
            move(index, chosen[index], 1)
            improved = improved or chosen[index] != old
    return [replace(cell, culture=culture) for cell, culture in zip(cells, chosen, strict=True)]
