"""What is taken along: the kitchen sheet to print, and the calendar, whose events a plan made again moves."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets

from fallow.panels.bring_back import words
from fallow.panels.bring_back.form import Form
from fallow.panels.bring_back.looks import Followed, OnPaper, on_paper
from fallow.panels.controls.download import Download
from fallow.plans.calendar import to_ics
from fallow.plans.sheet import kitchen_sheet_html


class Papers(ipywidgets.HBox):
    """Two buttons; ``followed`` gives the plan that holds, ``taken`` is called when one of them has been pressed."""

    def __init__(self, *, form: Form, followed: Callable[[], Followed], taken: Callable[[], None]) -> None:
        self.form, self._followed, self._taken = form, followed, taken
        self.handed: OnPaper | None = None
        self.sheet = Download(label="Kitchen sheet", file_name="", mime="text/html", content=self.sheet_html)
        self.calendar = Download(label="Calendar", file_name="", mime="text/calendar", content=self.calendar_text)
        super().__init__([self.sheet, self.calendar])

    def name(self, followed: Followed) -> None:
        """Name the files by the day of the dough."""
        day = f"{followed.plan.setting.mix:%Y-%m-%d}"
        self.sheet.file_name, self.calendar.file_name = f"bring-back-{day}.html", f"bring-back-{day}.ics"

    def sheet_html(self) -> str:
        """Return what is still to be done as a page to print."""
        followed = self._followed()
        jar = self.form.jar.text.strip()
        title = f"{jar}: bring back" if jar else "Bring back"
        paper = on_paper(followed, acts=followed.acts_ahead, sentence=words.sentence(followed))
        self._taken()
        return kitchen_sheet_html(paper, title=f"{title}, dough {words.day(followed.plan.setting.mix)}")

    def calendar_text(self) -> str:
        """Return the whole plan as a calendar file; one made again moves the events of the one before."""
        followed, before = self._followed(), self.handed
        again = before is not None and before.identity == followed.plan.identity
        paper = self.hand(followed, revision=before.revision + 1 if before is not None and again else 0)
        text = to_ics(paper, replaces=before if again else None, made_at=self.form.now())
        self._taken()
        return text

    def hand(self, followed: Followed, *, revision: int) -> OnPaper:
        """Return the whole plan as the calendar has it, and remember it: that is what the next one replaces."""
        said = words.sentence(followed)
        self.handed = on_paper(followed, acts=followed.acts, sentence=said, revision=revision)
        return self.handed
