"""What is taken along: the kitchen sheet to print, and the calendar, whose events a plan made again moves."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets

from fallow.charts.ledger import ledger_chart
from fallow.panels.bring_back import words
from fallow.panels.bring_back.form import Form
from fallow.panels.bring_back.looks import Followed, on_paper
from fallow.panels.bring_back.picture import ledger_of
from fallow.panels.controls.download import Download
from fallow.panels.controls.paper import OnPaper, replaced, revision_after, with_picture
from fallow.plans.calendar import to_ics
from fallow.plans.clock import day
from fallow.plans.sheet import kitchen_sheet_html

# Our choice: with more acts a page of A4 has no room for the picture.
_ACTS_BESIDE_A_PICTURE = 5
_WIDE_MM = 112


class Papers(ipywidgets.HBox):
    """Two buttons; ``followed`` gives the plan that holds, ``taken`` is called when one of them has been pressed."""

    def __init__(self, *, form: Form, followed: Callable[[], Followed], taken: Callable[[], None]) -> None:
        self.form, self._followed, self._taken = form, followed, taken
        self.handed: OnPaper | None = None
        self._handed_jar = ""
        self.sheet = Download(label="Kitchen sheet", file_name="", mime="text/html", content=self.sheet_html)
        self.calendar = Download(label="Calendar", file_name="", mime="text/calendar", content=self.calendar_text)
        super().__init__([self.sheet, self.calendar])

    def name(self, followed: Followed) -> None:
        """Name the files by the day of the dough."""
        dough = f"{followed.plan.setting.mix:%Y-%m-%d}"
        self.sheet.file_name, self.calendar.file_name = f"bring-back-{dough}.html", f"bring-back-{dough}.ics"

    def sheet_html(self) -> str:
        """Return what is still to be done as a page to print."""
        followed = self._followed()
        jar = self.form.jar.text.strip()
        title = f"{jar}: bring back" if jar else "Bring back"
        said, guesses = words.sentence(followed), tuple(self.form.guesses())
        paper = on_paper(followed, acts=followed.acts_ahead, sentence=said, guesses=guesses)
        self._taken()
        sheet = kitchen_sheet_html(paper, title=f"{title}, dough {day(followed.plan.setting.mix)}")
        ledger = ledger_of(followed)
        if ledger is None or len(paper.acts) > _ACTS_BESIDE_A_PICTURE:
            return sheet
        return with_picture(
            sheet, chart=ledger_chart(ledger), title="Doublings", description=paper.sentence, wide_mm=_WIDE_MM
        )

    def calendar_text(self) -> str:
        """Return the whole plan as a calendar file; one made again moves the events of the one before."""
        followed, before, now = self._followed(), self.handed, self.form.now()
        same_jar = self._handed_jar == self.form.jar.text.strip()
        again = replaced(before, by=followed.plan.identity, same_jar=same_jar, now=now)
        paper = self.hand(followed, revision=revision_after(again.revision if again else None, now=now))
        text = to_ics(paper, replaces=again, made_at=now)
        self._taken()
        return text

    def hand(self, followed: Followed, *, revision: int) -> OnPaper:
        """Return the whole plan as the calendar has it, and remember it: that is what the next one replaces."""
        said, self._handed_jar = words.sentence(followed), self.form.jar.text.strip()
        self.handed = on_paper(followed, acts=followed.acts, sentence=said, revision=revision)
        return self.handed
