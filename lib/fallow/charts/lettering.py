"""Where words go in a picture: how wide a text is, how it wraps, and a place for a label where nothing else stands."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

# Letters of about one width, with that width in em: plain and bold. Measured in Chromium with DejaVu Sans, which a Linux
# machine without Helvetica and Arial draws instead of them; it is the widest of the three.
THIN, SLIM, WIDE, SIGNS = set("ijl|'.,·:;/\\ "), set('ftrIJ-–()[]!"°*_'), set("mwMW%@—½&"), set("+<=>~×≈−#^")
_EMS = ((THIN, 0.34, 0.38), (SLIM, 0.42, 0.5), (WIDE, 0.98, 1.04), (SIGNS, 0.84, 0.84))
_UPPER, _OTHER = (0.75, 0.82), (0.64, 0.72)


def text_px(text: str, *, size: float, bold: bool = False) -> float:
    """Return about how many pixels wide a text is in the widest letters it may be drawn in, rather too wide than too narrow.

    >>> round(text_px("12:00", size=10))
    29
    """
    return size * sum(_em(letter)[bold] for letter in text)


@cache
def _em(letter: str) -> tuple[float, float]:
    for letters, plain, bold in _EMS:
        if letter in letters:
            return plain, bold
    return _UPPER if letter.isupper() else _OTHER


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


@dataclass(frozen=True, kw_only=True)
class Label:
    """A bold label of one or more lines and where it stands."""

    lines: Sequence[str]
    box: Box


def placed_label(
    forms: Sequence[Sequence[str]], *, x_px: float, y_px: float, size: float, paper: Box, taken: Sequence[Box]
) -> Label:
    """Return the first form of a label, the fullest coming first, for which there is room near a point; the last one at any rate."""
    for lines in forms:
        box = free_spot(lines, x_px=x_px, y_px=y_px, size=size, paper=paper, taken=taken)
        if not box.outside(paper) and not any(box.overlap(other) for other in taken):
            break
    return Label(lines=lines, box=box)


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

    Right below is tried first, then left above, and so on outwards: the nearest that lies on nothing; where all lie on
    something, the one that lies on least. Nothing stands over the paper's edge while another place does not.
    """
    wide = max(text_px(line, size=size, bold=True) for line in lines)
    best, least = None, math.inf
    for box in _spots(x_px, y_px, wide=wide, high=1.3 * len(lines) * size, step=size + 6, gap=gap_px, paper=paper):
        cost = box.outside(paper) * 1000 + ((box.top + box.bottom) / 2 - y_px) ** 2 / 10
        # What already costs more than the best so far need not be held against every other word.
        if cost < least:
            cost += 100 * sum(box.overlap(other) for other in taken)
        if cost < least:
            best, least = box, cost
    assert best is not None
    return best


def _spots(x_px: float, y_px: float, *, wide: float, high: float, step: float, gap: float, paper: Box) -> Iterator[Box]:
    """Give places around a point, nearest first: right below, left above, right above, left below, and over and under it."""
    for number in range(8):
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
