"""The page: when you leave and return, where the jar stands, and the plan with its picture, its paper and its calendar."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import ipywidgets

from fallow.charts.ledger import dressed_with
from fallow.charts.ledger_rows import ledger_rows
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.download import Download
from fallow.panels.controls.live import LiveChart
from fallow.panels.controls.markup import markup
from fallow.panels.controls.page import More, side_by_side
from fallow.panels.put_away import below, words
from fallow.panels.put_away.asked import Asked
from fallow.panels.put_away.cultures import Cultures
from fallow.panels.put_away.form import Form
from fallow.panels.put_away.keep import Keep
from fallow.plans.calendar import to_ics
from fallow.plans.put_away import PutAway
from fallow.plans.sheet import kitchen_sheet_html

PINS = ("A", "B", "C", "D")
NO_PLAN = "no plan"


def present() -> datetime:
    """Return the present instant."""
    return datetime.now(UTC)


class PutAwayPage(ipywidgets.VBox):
    """The page over a folder of experiments; ``form`` holds the questions, ``refresh`` shows what follows."""

    def __init__(self, folder: str | Path, *, now: Callable[[], datetime] = present) -> None:
        cultures = Cultures.of(Path(folder))
        self.form = Form(cultures=cultures, now=now, changed=self.refresh)
        self.answer, self.reason, self.note, self.compared = Answer(), Answer(), Note(), Note()
        self.pinned: dict[str, Asked] = {}
        self.in_calendar: PutAway | None = None
        first = self.form.asked()
        rows = ledger_rows(first.ledger)
        self.chart = LiveChart(chart=dressed_with(rows), description=words.sentence(first))
        self.nothing: dict[str, list[dict[str, Any]]] = {name: [] for name in rows.data}
        self.sheet = Download(label="Kitchen sheet", file_name="", mime="text/html", content=self.sheet_html)
        self.calendar = Download(label="Calendar", file_name="", mime="text/calendar", content=self.calendar_text)
        self.keep = Keep(folder=Path(folder), asked=self.form.asked)
        self.refresh()
        pins = [Button(label="Pin this plan", act=self.pin), Button(label="Clear the pins", act=self.clear)]
        super().__init__(
            [
                side_by_side(self.form.seven),
                More(self.form.more),
                self.answer,
                self.reason,
                self.chart,
                ipywidgets.HBox([self.sheet, self.calendar, *pins]),
                self.compared,
                self.note,
                self.keep,
            ]
        )

    def refresh(self) -> None:
        """Show sentence, picture and numbers of the plan that is asked for, or why there is none."""
        try:
            asked = self.form.asked()
            rows = ledger_rows(asked.ledger)
            said = words.sentence(asked)
        except ValueError as error:
            self.show_nothing(error)
            return
        self.chart.feed(data=rows.data, signals=rows.signals, description=said)
        self.note.markup = markup([*below.parts(asked), *self.form.cultures.troubles])
        self.reason.refuse(ValueError(asked.plan.reason))
        self.answer.say(said)
        day = f"{asked.leave:%Y-%m-%d}"
        self.sheet.file_name, self.calendar.file_name = f"put-away-{day}.html", f"put-away-{day}.ics"

    def show_nothing(self, error: ValueError) -> None:
        """Show why there is no plan, and nothing that could be taken for one."""
        self.chart.feed(data=self.nothing, signals={}, description=NO_PLAN)
        self.note.tell()
        self.reason.say("")
        self.answer.refuse(error)

    def pin(self) -> None:
        """Keep the present plan beside up to three others."""
        try:
            asked = self.form.asked()
            words.sentence(asked)
        except ValueError as error:
            self.answer.refuse(error)
            return
        free = next((name for name in PINS if name not in self.pinned), None)
        if free is None:
            self.compared.tell(*below.side_by_side(self.pinned), "Four plans stand here already; clear the pins first.")
            return
        self.pinned[free] = asked
        self.compared.tell(*below.side_by_side(self.pinned))

    def clear(self) -> None:
        """Take the pinned plans away."""
        self.pinned = {}
        self.compared.tell()

    def sheet_html(self) -> str:
        """Return the plan as a page to print."""
        asked = self.form.asked()
        jar = f"{asked.jar}: put" if asked.jar else "Put"
        return kitchen_sheet_html(asked.plan, title=f"{jar} away, leaving {words.full(asked.leave)}")

    def calendar_text(self) -> str:
        """Return the plan as a calendar file; one made again moves the events of the one before."""
        plan, before = self.form.asked().plan, self.in_calendar
        again = before is not None and before.identity == plan.identity
        made = replace(plan, revision=before.revision + 1) if before is not None and again else plan
        text = to_ics(made, replaces=before if again else None)
        self.in_calendar = made
        return text
