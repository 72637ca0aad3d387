"""Moves of a slider by keyboard, timed in the browser itself from the key to the redrawn chart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from playwright.sync_api import Locator, Page

# The chart counts its drawings; the key is pressed from outside, its own event starts the clock. A second watch on the same
# page first takes the one before away: two at once would count a move twice.
WATCH = """() => {
    window.fallowUnwatch?.();
    const frame = document.querySelector(".fallow-chart");
    window.fallowMoves = [];
    let pressed = null;
    const key = () => { pressed = performance.now(); };
    const drawn = new MutationObserver(() => requestAnimationFrame(() => {
        if (pressed !== null) { window.fallowMoves.push(performance.now() - pressed); pressed = null; }
    }));
    document.addEventListener("keydown", key, true);
    drawn.observe(frame, { attributes: true, attributeFilter: ["data-drawn"] });
    window.fallowUnwatch = () => { document.removeEventListener("keydown", key, true); drawn.disconnect(); };
}"""


@dataclass(frozen=True)
class Moves:
    """Milliseconds from key to redrawn chart."""

    moves: int
    median_ms: float
    p95_ms: float

    def __str__(self) -> str:
        return f"{self.moves} moves, median {self.median_ms:.0f} ms, 95th percentile {self.p95_ms:.0f} ms"


def timed_moves(page: Page, slider: Locator, *, moves: int = 30) -> Moves:
    """Press an arrow key ``moves`` times, each after the chart has followed the one before."""
    slider.focus()
    page.wait_for_function("() => document.querySelector('.fallow-chart')?.dataset.drawn")
    page.evaluate(WATCH)
    for done in range(moves):
        page.keyboard.press("ArrowRight" if done < moves / 2 else "ArrowLeft")
        page.wait_for_function("(count) => window.fallowMoves.length > count", arg=done)
    times: list[Any] = page.evaluate("() => window.fallowMoves")
    middle, late = np.quantile(times, [0.5, 0.95])
    return Moves(moves=len(times), median_ms=float(middle), p95_ms=float(late))


def no_sideways_scroll(page: Page) -> None:
    """See that the notebook fits its window."""
    spare = page.evaluate(
        "() => Math.max(...[...document.querySelectorAll('.jp-Cell')].map(e => e.scrollWidth - e.clientWidth))"
    )
    assert spare <= 1, f"{spare} pixels stand out sideways"


COLLISIONS = """() => {
    const svg = document.querySelector(".fallow-chart svg"), paper = svg.getBoundingClientRect();
    const words = [...svg.querySelectorAll("text")].filter(t => t.textContent.trim() && !t.hasAttribute("stroke"))
        .map(t => [t.textContent, t.getBoundingClientRect()]);
    const found = [];
    words.forEach(([one, a], i) => {
        if (a.left < paper.left - 1 || a.right > paper.right + 1 || a.top < paper.top - 1 || a.bottom > paper.bottom + 1)
            found.push(`${one} leaves the paper`);
        words.slice(i + 1).forEach(([other, b]) => {
            const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
            const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
            if (wide > 1 && high > 3) found.push(`${one} / ${other}`);
        });
    });
    return found;
}"""


def no_colliding_words(page: Page) -> None:
    """See that no word of the chart lies on another or is cut by the paper's edge."""
    assert page.evaluate(COLLISIONS) == []
