"""Where words go in a picture: how wide a text is, how it wraps, and a place for a label where nothing else stands."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

NARROW, WIDE = set("ijltf.,:;'|()[]! "), set("mwMW@%")


def text_px(text: str, *, size: float, bold: bool = False) -> float:
    """Return about how many pixels wide a text is in Helvetica or Arial, rather too wide than too narrow.

    Our choice: widths by class of letter (memory: Helvetica's metrics, digits 0.556 em).

    >>> round(text_px("12:00", size=10))
    27
    """
    ems = sum(0.34 if c in NARROW else 0.92 if c in WIDE else 0.74 if c.isupper() else 0.58 for c in text)
    return ems * size * (1.06 if bold else 1.0)


def wrapped(parts: Sequence[str], *, width_px: float, size: float, joint: str = " · ") -> list[str]:
    """Return parts joined into as few lines as fit the width; one part is never cut, so a long one may stand over.

    >>> wrapped(["14 g seed", "49 g flour", "49 g water"], width_px=130, size=11)
    ['14 g seed · 49 g flour', '49 g water']
    """
    lines: list[str] = []
    for part in parts:
        longer = f"{lines[-1]}{joint}{part}" if lines else part
        if lines and text_px(longer, size=size) <= width_px:
            lines[-1] = longer
        else:
            lines.append(part)
    return lines


@dataclass(frozen=True, kw_only=True)
class Box:
    """A rectangle in pixels, y running downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def overlap(self, other: Box) -> float:
        """Return the shared area in square pixels."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(0.0, wide) * max(0.0, high)

    def outside(self, paper: Box) -> float:
        """Return by how many pixels it stands over the edges of ``paper``."""
        return (
            max(0.0, paper.left - self.left)
            + max(0.0, self.right - paper.right)
            + max(0.0, paper.top - self.top)
            + max(0.0, self.bottom - paper.bottom)
        )


def free_spot(
    lines: Sequence[str],
    *,
    x_px: float,
    y_px: float,
    size: float,
    paper: Box,
    taken: Sequence[Box],
    gap_px: float = 12,
) -> Box:
    """Return a place near a point for a bold label of one or more lines.

    Right below is tried first, then left above, and so on outwards: the place that overlaps least and lies nearest.
    Nothing stands over the paper's edge while another place does not.
    """
    wide = max(text_px(line, size=size, bold=True) for line in lines)
    best, least = None, math.inf
    for box in _spots(x_px, y_px, wide=wide, high=1.3 * len(lines) * size, step=size + 6, gap=gap_px, paper=paper):
        cost = box.outside(paper) * 1000 + ((box.top + box.bottom) / 2 - y_px) ** 2 / 10
        # What already costs more than the best so far need not be held against every other word.
        if cost < least:
            cost += sum(box.overlap(other) for other in taken)
        if cost < least:
            best, least = box, cost
    assert best is not None
    return best


def _spots(x_px: float, y_px: float, *, wide: float, high: float, step: float, gap: float, paper: Box) -> Iterator[Box]:
    """Give places around a point, nearest first: right below, left above, right above, left below, and over and under it."""
    for number in range(5):
        down = y_px + high / 2 + 7 + number * step
        up = 2 * y_px - down
        middle = min(x_px - wide / 2, paper.right - wide)
        for left, at in (
            (x_px + gap, down),
            (x_px - gap - wide, up),
            (x_px + gap, up),
            (x_px - gap - wide, down),
            (middle, up),
            (max(middle, paper.left), down),
        ):
            yield Box(left=left, top=at - high / 2, right=left + wide, bottom=at + high / 2)
