"""The kitchen sheet: a plan on one A4 page, black on white, in large type, with boxes for what was really done."""

from __future__ import annotations

from html import escape
from typing import Protocol

from fallow.plans.acts import Act
from fallow.plans.calendar import Planned
from fallow.plans.sentences import clock
from fallow.records.inert import seen

_STYLE = """
@page { size: A4; margin: 12mm }
* { box-sizing: border-box }
body { line-height: 1.22; font-family: sans-serif; color: #000; background: #fff; max-width: 186mm; margin: 0 auto }
h1 { font-size: 1.5em; margin: 0 0 1mm } p { margin: 0 0 1mm }
table { width: 100%; border-collapse: collapse; margin: 1mm 0 2mm }
th, td { border: 0.4mm solid #000; padding: 0.1em 0.4em 0.2em; text-align: left; vertical-align: top }
th { font-size: 0.85em } td { overflow-wrap: anywhere }
td.when { font-size: 1.15em; font-weight: bold; white-space: nowrap } td.what b { font-size: 1.08em }
td.really { width: 68mm }
.box { display: inline-block; white-space: nowrap; margin: 0 1mm 0.5mm 0 }
.box i { display: inline-block; width: 14mm; height: 6mm; border: 0.4mm solid #000; vertical-align: middle; margin: 0 1mm }
.many .box i { height: 4.8mm } .many .box { margin-bottom: 0 }
.small { font-size: 0.78em } ul { margin: 0; padding-left: 5mm }
tr { break-inside: avoid }
"""
_LARGEST_PT, _SMALLEST_PT, _POINT_ACTS = 12.0, 9.5, 95.0
_MOST_ROWS = 11
_FROM_THE_OLD_JAR = (
    "Liquid on top: pour it off, or stir it in and feed a little richer.",
    "Take the seed from the middle, not from the rim or the top.",
)
_AT_EACH_LOOK = "Mark the height after each feed and write it down at each look: the plan can be made again from it."


class OnPaper(Planned, Protocol):
    """What a kitchen sheet needs of a plan."""

    @property
    def sentence(self) -> str:
        """The plan in one sentence."""

    @property
    def reason(self) -> str:
        """Why the wish cannot be met; empty when it can."""


def kitchen_sheet_html(plan: OnPaper, *, title: str = "Kitchen sheet") -> str:
    """Return the plan as one HTML page that prints from any browser, with nothing to load from anywhere.

    Whatever a baker has named (jar, place, flour) stands there as text, never as markup.
    """
    rows = "".join(_row(acts) for acts in _rows(plan.acts))
    many = ' class="many"' if len(plan.acts) > _MOST_ROWS else ""
    return seen(
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}body {{ font-size: {_size(len(plan.acts)):g}pt }}</style>\n</head>\n<body{many}>\n"
        f"<h1>{escape(title)}</h1>\n<p>{escape(plan.reason or plan.sentence)}</p>\n"
        "<table>\n<thead><tr><th>When</th><th>What</th><th>What was really done</th></tr></thead>\n"
        f"<tbody>{rows}</tbody>\n</table>\n"
        f'<ul>{_items(_habits(plan.acts))}</ul>\n<ul class="small">{_items(plan.cautions)}</ul>\n</body>\n</html>\n'
    )


def _habits(acts: tuple[Act, ...]) -> tuple[str, ...]:
    """Return the habits of the acts on the sheet: none before the cold, where there is neither an old jar nor a look to plan from."""
    old = _FROM_THE_OLD_JAR if any(act.feed == 1 and act.weighed for act in acts) else ()
    return (*old, *((_AT_EACH_LOOK,) if any(act.feed for act in acts) else ()))


def _size(acts: int) -> float:
    """Return the type size in points: large, and smaller only where many acts would not fit one page."""
    return max(_SMALLEST_PT, min(_LARGEST_PT, _POINT_ACTS / max(acts, 1)))


def _rows(acts: tuple[Act, ...]) -> list[tuple[Act, ...]]:
    """Return the acts of each row: one, but where there are many a look stands with the act before it."""
    rows: list[tuple[Act, ...]] = []
    for act in acts:
        if rows and len(acts) > _MOST_ROWS and act.key.startswith("look"):
            rows[-1] = (*rows[-1], act)
        else:
            rows.append((act,))
    return rows


def _row(acts: tuple[Act, ...]) -> str:
    first, *looks = acts
    what = f"<b>{escape(first.title)}</b><br>{escape(first.text)}"
    what += "".join(f"<br><b>{escape(clock(look.at))}: {escape(look.title)}</b> {escape(look.text)}" for look in looks)
    return (
        f'<tr><td class="when">{escape(clock(first.at))}</td>'
        f'<td class="what">{what}</td>'
        f'<td class="really">{"".join(_boxes(act) for act in acts)}</td></tr>\n'
    )


def _boxes(act: Act) -> str:
    """Return a box for the hour, one for each of the grams, and one for the height where that is written down."""
    grams = "".join(_box(name, "g") for name, _ in act.weighed)
    return _box("time", "") + grams + (_box("height", "mm") if act.height else "")


def _box(name: str, unit: str) -> str:
    return f'<span class="box">{escape(name)}<i></i>{escape(unit)}</span>'


def _items(lines: tuple[str, ...]) -> str:
    return "".join(f"<li>{escape(line)}</li>" for line in lines)
