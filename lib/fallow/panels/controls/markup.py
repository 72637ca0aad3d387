"""Paragraphs, small headings and tables as markup in which every text is only text."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from fallow.records.inert import seen

LONG = 15


@dataclass(frozen=True)
class Head:
    """A small heading above what follows."""

    text: str


@dataclass(frozen=True)
class Figure:
    """A picture that is drawn already (SVG of ``fallow.charts.picture``) with its words below; only a report shows one."""

    svg: str
    caption: str


Part = str | Head | Figure | pd.DataFrame


def markup(parts: Sequence[Part]) -> str:
    """Return parts as HTML, in order; texts and cells are escaped, empty texts and tables without rows are left out.

    >>> markup([Head("Rye & rise"), "1 < 2", ""])
    '<h4>Rye &amp; rise</h4><p>1 &lt; 2</p>'
    """
    return seen("".join(_shown(part) for part in parts))


def _shown(part: Part) -> str:
    if isinstance(part, pd.DataFrame):
        if not len(part):
            return ""
        table = str(part.to_html(index=False, border=0, na_rep=""))
        # A long table scrolls in a frame of its own, which the keyboard must be able to reach.
        return (
            f'<div class="fallow-long" tabindex="0" role="region" aria-label="long table">{table}</div>'
            if len(part) > LONG
            else table
        )
    if isinstance(part, Figure):
        return f"<figure>{part.svg}<figcaption>{html.escape(part.caption)}</figcaption></figure>"
    if isinstance(part, Head):
        return f"<h4>{html.escape(part.text)}</h4>"
    return f"<p>{html.escape(part)}</p>" if part else ""
