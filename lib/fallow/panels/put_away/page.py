"""The page: when you leave and return, where the jar stands, and the plan with its picture, its paper and its calendar."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import ipywidgets

from fallow.charts.ledger import dressed_with
from fallow.charts.ledger_rows import ledger_rows, no_rows
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.cultures import Cultures
from fallow.panels.controls.form import present
from fallow.panels.controls.keep import Keep
from fallow.panels.controls.live import LiveChart
from fallow.panels.controls.page import More, side_by_side
from fallow.panels.put_away import below, words
from fallow.panels.put_away.asked import Asked
from fallow.panels.put_away.form import Form
from fallow.panels.put_away.papers import Papers

PINS = ("A", "B", "C", "D")
NO_PLAN = "no plan"


class PutAwayPage(ipywidgets.VBox):
    """The page over a folder of experiments; ``form`` holds the questions, ``refresh`` shows what follows."""

    def __init__(self, folder: str | Path, *, now: Callable[[], datetime] = present) -> None:
        cultures = Cultures.of(Path(folder))
        self.form = Form(cultures=cultures, now=now, changed=self.refresh)
        self.answer, self.feeds, self.reason = Answer(), Answer(), Answer()
        self.note, self.compared = Note(), Note()
        self.pinned: dict[str, Asked] = {}
        self.chart = LiveChart(chart=dressed_with(no_rows()), description=NO_PLAN)
        self.keep = Keep(folder=Path(folder), plan=lambda: self.form.asked().held, now=now)
        pins = [Button(label="Pin this plan", act=self.pin), Button(label="Clear the pins", act=self.clear)]
        self.papers = Papers(asked=self.form.asked, now=now, beside=pins)
        self.refresh()
        super().__init__(
            [
                side_by_side(self.form.seven),
                More(self.form.more),
                self.answer,
                self.feeds,
                self.reason,
                self.chart,
                self.papers,
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
        self.note.tell(*below.parts(asked), *self.form.cultures.troubles)
        self.reason.refuse(ValueError(asked.plan.reason))
        self.answer.say(said)
        self.feeds.say(words.in_form(asked.plan))
        self.papers.name(asked)

    def show_nothing(self, error: ValueError) -> None:
        """Show why there is no plan, and nothing that could be taken for one."""
        self.chart.feed(data=no_rows().data, signals={}, description=NO_PLAN)
        self.note.tell()
        self.reason.say("")
        self.feeds.say("")
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
