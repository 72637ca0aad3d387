"""What is taken along: the kitchen sheet to print, and the calendar, whose events a plan made again moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

import ipywidgets

from fallow.charts.ledger import ledger_chart
from fallow.panels.controls.download import Download
from fallow.panels.controls.paper import OnPaper, replaced, revision_after, with_picture
from fallow.panels.put_away import words
from fallow.panels.put_away.asked import Asked
from fallow.plans.calendar import to_ics
from fallow.plans.clock import day
from fallow.plans.put_away import PutAway
from fallow.plans.sheet import kitchen_sheet_html

# As wide as leaves all of it on one page; a reserve takes two rows more of it.
_WIDE_MM, _WIDE_BESIDE_A_RESERVE_MM = 128.0, 88.0


class Papers(ipywidgets.HBox):
    """Two buttons and whatever stands beside them; ``asked`` gives what the page is asked now."""

    def __init__(
        self, *, asked: Callable[[], Asked], now: Callable[[], datetime], beside: list[ipywidgets.Widget]
    ) -> None:
        self._asked, self._now = asked, now
        self.handed: PutAway | None = None
        self._handed_jar = ""
        self.sheet = Download(label="Kitchen sheet", file_name="", mime="text/html", content=self.sheet_html)
        self.calendar = Download(label="Calendar", file_name="", mime="text/calendar", content=self.calendar_text)
        super().__init__([self.sheet, self.calendar, *beside])

    def name(self, asked: Asked) -> None:
        """Name the files by the day of leaving."""
        leaving = f"{asked.leave:%Y-%m-%d}"
        self.sheet.file_name, self.calendar.file_name = f"put-away-{leaving}.html", f"put-away-{leaving}.ics"

    def sheet_html(self) -> str:
        """Return the plan as a page to print, with its picture."""
        asked = self._asked()
        said = words.sentence(asked)
        title = f"{f'{asked.jar}: put' if asked.jar else 'Put'} away, leaving {day(asked.leave)}"
        sheet = kitchen_sheet_html(on_paper(asked), title=title)
        wide_mm = _WIDE_MM if asked.plan.reserve is None else _WIDE_BESIDE_A_RESERVE_MM
        return with_picture(
            sheet, chart=ledger_chart(asked.ledger), title="Doublings", description=said, wide_mm=wide_mm
        )

    def calendar_text(self) -> str:
        """Return the plan as a calendar file; one made again moves the events of the one before."""
        asked, before, now = self._asked(), self.handed, self._now()
        plan, same_jar = asked.plan, self._handed_jar == asked.jar
        again = replaced(before, by=plan.identity, same_jar=same_jar, now=now)
        made = replace(plan, revision=revision_after(again.revision if again else None, now=now))
        text = to_ics(made, replaces=again, made_at=now)
        self.handed, self._handed_jar = made, asked.jar
        return text


def on_paper(asked: Asked) -> OnPaper:
    """Return the plan for a sheet."""
    plan = asked.plan
    return OnPaper(
        acts=tuple(replace(act, title=f"{act.at.day} {act.at:%b}: {act.title}") for act in plan.acts),
        identity=plan.identity,
        revision=plan.revision,
        cautions=plan.cautions,
        sentence=" ".join(part for part in (words.sentence(asked), words.in_form(plan), plan.reason) if part),
        reason="",
    )
