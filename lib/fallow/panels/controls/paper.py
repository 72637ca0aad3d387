"""A plan on paper and in the calendar: what they hold of it, its version, and the picture below the sheet's table."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from fallow.charts.picture import picture
from fallow.plans.acts import Act
from fallow.plans.calendar import Planned

_STYLE = "<style>.picture {{ margin: 0 }} .picture svg {{ width: {}mm; height: auto; display: block }}</style>\n"
_FIRST_DAY = datetime(2026, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, kw_only=True)
class OnPaper:
    """What the calendar and the kitchen sheet hold of a plan."""

    acts: tuple[Act, ...]
    identity: str
    revision: int
    cautions: tuple[str, ...]
    sentence: str
    reason: str


def revision_after(before: int | None, *, now: datetime) -> int:
    """Return the version of a plan that is handed out now, above that of the one ``before``.

    Minutes count on when the page is opened anew, so a calendar never takes a later plan for an older one.
    """
    minutes = int((now - _FIRST_DAY) / timedelta(minutes=1))
    return minutes if before is None else max(minutes, before + 1)


def replaced(before: Planned | None, *, by: str, same_jar: bool, now: datetime) -> Planned | None:
    """Return the plan handed out before where one handed out now takes its place, None where both hold.

    It has the identity ``by``, or it is for the same jar and not over: a day moved makes no second bake of one jar.
    """
    if before is None:
        return None
    under_way = same_jar and any(act.at > now for act in before.acts)
    return before if before.identity == by or under_way else None


def with_picture(sheet: str, *, chart: Any, title: str, description: str, wide_mm: float = 132) -> str:
    r"""Return a kitchen sheet (``fallow.plans.sheet``) with a chart below its table.

    >>> import altair as alt
    >>> dot = alt.Chart(alt.InlineData([{"x": 1}])).mark_point().encode(x="x:Q")
    >>> made = with_picture("<table></table>\n<ul></ul>", chart=dot, title="Doublings", description="one dot")
    >>> made.index("</table>") < made.index("<svg") < made.index("<ul>")
    True
    """
    drawn = picture(chart, title=title, description=description)
    above, end, below = sheet.partition("</table>\n")
    return f'{above}{end}<figure class="picture">{drawn.svg}</figure>\n{_STYLE.format(wide_mm)}{below}'
