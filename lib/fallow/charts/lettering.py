"""Where words go in a picture: how wide a text is, how it wraps, and a place for a label where nothing else stands."""

from __future__ import annotations

from collections.abc import Sequence
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
    wide, half = max(text_px(line, size=size, bold=True) for line in lines), len(lines) * size * 0.65
    boxes = []
    for step in range(5):
        down = y_px + half + 7 + step * (size + 6)
        up = 2 * y_px - down
        for left, middle in (
            (x_px + gap_px, down),
            (x_px - gap_px - wide, up),
            (x_px + gap_px, up),
            (x_px - gap_px - wide, down),
            (min(x_px - wide / 2, paper.right - wide), up),
            (max(min(x_px - wide / 2, paper.right - wide), paper.left), down),
        ):
            boxes.append(Box(left=left, top=middle - half, right=left + wide, bottom=middle + half))
    far = {box: (box.top + box.bottom) / 2 - y_px for box in boxes}
    return min(boxes, key=lambda b: b.outside(paper) * 1000 + sum(b.overlap(t) for t in taken) + far[b] ** 2 / 10)
