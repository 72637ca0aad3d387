"""The page: when you are home and when you bake, and the feeds between, made again after each look at the jar."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import ipywidgets

from fallow.charts.ledger import dressed_with
from fallow.charts.ledger_rows import ledger_rows
from fallow.panels.bring_back import words
from fallow.panels.bring_back.form import Form
from fallow.panels.bring_back.keep import Keep
from fallow.panels.bring_back.look_box import LookBox
from fallow.panels.bring_back.looks import Followed, Look, OnPaper, on_paper
from fallow.panels.bring_back.picture import ledger_of, shown_feeds
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.download import Download
from fallow.panels.controls.live import LiveChart
from fallow.panels.controls.page import More, side_by_side
from fallow.plans.calendar import to_ics
from fallow.plans.plan import BringBack
from fallow.plans.sheet import kitchen_sheet_html

NO_PLAN, MOST_NEAREST = "no plan", 3
FORGET, BACK = "Forget the look", "Back to the plan from your look"
ASIDE = "This is a plan from the cold jar again; the plan from your look is kept aside."


def present() -> datetime:
    """Return the present instant."""
    return datetime.now(UTC)


class BringBackPage(ipywidgets.VBox):
    """The page over a folder of experiments; ``form`` holds the questions, ``refresh`` shows what follows."""

    def __init__(self, folder: str | Path, *, now: Callable[[], datetime] = present, time_zone: str = "") -> None:
        self.form = Form(now=now, changed=self.refresh, time_zone=time_zone)
        self.followed: Followed | None = None
        self.aside: Followed | None = None
        self.in_calendar: OnPaper | None = None
        self.answer, self.feeds, self.note, self.warned = Answer(), Note(), Note(), Note()
        self.near = [Button(label="", act=lambda n=n: self.choose(n)) for n in range(MOST_NEAREST)]
        first = Followed(plans=(self.form.asked().plan(),))
        rows = ledger_rows(ledger_of(first))
        self.chart = LiveChart(chart=dressed_with(rows), description=words.sentence(first))
        self.nothing: dict[str, list[dict[str, Any]]] = {name: [] for name in rows.data}
        self.sheet = Download(label="Kitchen sheet", file_name="", mime="text/html", content=self.sheet_html)
        self.calendar = Download(label="Calendar", file_name="", mime="text/calendar", content=self.calendar_text)
        self.look_box = LookBox(form=self.form, again=self.look, turn=self.turn)
        self.keep = Keep(folder=Path(folder), plan=self.held, now=now)
        self.show(first)
        super().__init__(
            [
                side_by_side(self.form.seven),
                More(self.form.more),
                self.answer,
                ipywidgets.VBox(self.near),
                self.warned,
                self.chart,
                self.feeds,
                ipywidgets.HBox([self.sheet, self.calendar]),
                self.look_box,
                self.note,
                self.keep,
            ]
        )

    def refresh(self) -> None:
        """Plan anew from the cold jar as the controls have it, or show why there is no plan; a look's plan is kept aside."""
        if self.followed is not None and self.followed.looks:
            self.aside = self.followed
            self.look_box.said.say(ASIDE)
        try:
            self.show(Followed(plans=(self.form.asked().plan(),)))
        except ValueError as error:
            self.show_nothing(error)

    def look(self, look: Look) -> str:
        """Plan again from a look and return what it told; one that means nothing is refused and changes nothing."""
        followed = self._following().looked(look)
        self.aside = None
        self.show(followed)
        return words.looked(followed, shown_feeds(followed)[0])

    def turn(self) -> None:
        """Go from the plan from a look to one from the cold jar, or back."""
        kept, self.aside = self.aside, None
        if kept is None:
            self.refresh()
        else:
            self.form.follow(kept.plan)
            self.look_box.said.say(words.looked(kept, shown_feeds(kept)[0]))
            self.show(kept)

    def choose(self, number: int) -> None:
        """Take one of the nearest plans, and move the controls to where it has them."""
        followed = self._following()
        plan = followed.plan.alternatives[number]
        self.form.follow(plan)
        self.show(followed.instead(plan))

    def show(self, followed: Followed) -> None:
        """Show sentence, picture, feeds and cautions of a plan."""
        self.followed = followed
        plan, said, ledger = followed.plan, words.sentence(followed), ledger_of(followed)
        if ledger is None:
            self._empty_chart()
        else:
            rows = ledger_rows(ledger)
            self.chart.feed(data=rows.data, signals=rows.signals, description=said)
        if plan.reason:
            self.answer.refuse(ValueError(plan.reason))
        else:
            self.answer.say(said)
        self.warned.tell(*words.warnings(plan))
        self.feeds.tell(words.table(plan), *words.advice(plan))
        self.note.tell(*plan.cautions, *words.numbers(plan))
        self._offer(plan)
        self.look_box.offer(FORGET if followed.looks else BACK if self.aside else "")
        day = f"{plan.setting.mix:%Y-%m-%d}"
        self.sheet.file_name, self.calendar.file_name = f"bring-back-{day}.html", f"bring-back-{day}.ics"

    def show_nothing(self, error: ValueError) -> None:
        """Show why there is no plan, and nothing that could be taken for one."""
        self.followed = None
        self._empty_chart()
        for note in (self.feeds, self.note, self.warned):
            note.tell()
        for button in self.near:
            button.layout.display = "none"
        self.answer.refuse(error)

    def held(self) -> BringBack:
        """Return the plan that holds, or refuse when there is none."""
        return self._following().plan

    def sheet_html(self) -> str:
        """Return what is still to be done as a page to print."""
        followed = self._following()
        jar = self.form.jar.text.strip()
        title = f"{jar}: bring back" if jar else "Bring back"
        paper = on_paper(followed, acts=followed.acts_ahead, sentence=words.sentence(followed))
        return kitchen_sheet_html(paper, title=f"{title}, dough {words.day(followed.plan.setting.mix)}")

    def calendar_text(self) -> str:
        """Return the whole plan as a calendar file; one made again moves the events of the one before."""
        followed, before = self._following(), self.in_calendar
        again = before is not None and before.identity == followed.plan.identity
        paper = on_paper(
            followed,
            acts=followed.acts,
            sentence=words.sentence(followed),
            revision=before.revision + 1 if before is not None and again else 0,
        )
        text = to_ics(paper, replaces=before if again else None, made_at=self.form.now())
        self.in_calendar = paper
        return text

    def _following(self) -> Followed:
        if self.followed is None:
            message = "There is no plan to go on from. Correct what stands in red above, then press again."
            raise ValueError(message)
        return self.followed

    def _offer(self, plan: BringBack) -> None:
        near = plan.alternatives[:MOST_NEAREST]
        for number, button in enumerate(self.near):
            button.layout.display = None if number < len(near) else "none"
            if number < len(near):
                button.label = words.offer(near[number])

    def _empty_chart(self) -> None:
        self.chart.feed(data=self.nothing, signals={}, description=NO_PLAN)
