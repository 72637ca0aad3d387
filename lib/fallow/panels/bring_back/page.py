"""The page: when you are home and when you bake, and the feeds between, made again after each look at the jar."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path

import ipywidgets

from fallow.charts.ledger import dressed_with
from fallow.charts.ledger_rows import ledger_rows, no_rows
from fallow.panels.bring_back import words
from fallow.panels.bring_back.form import Form
from fallow.panels.bring_back.in_hand import InHand, keep_in_hand, read_in_hand
from fallow.panels.bring_back.look_box import LookBox
from fallow.panels.bring_back.looks import Followed, Look
from fallow.panels.bring_back.papers import Papers
from fallow.panels.bring_back.picture import ledger_of, shown_feeds
from fallow.panels.bring_back.promised import Promised
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.cultures import Cultures
from fallow.panels.controls.fold import Fold
from fallow.panels.controls.form import present
from fallow.panels.controls.keep import Keep
from fallow.panels.controls.live import LiveChart
from fallow.panels.controls.markup import Head
from fallow.panels.controls.page import More, side_by_side
from fallow.plans.clock import day
from fallow.plans.plan import BringBack

NO_PLAN, MOST_NEAREST = "no plan", 3
FORGET, BACK = "Forget the look", "Back to the plan from your look"
ASIDE = "This is a plan from the cold jar again; the plan from your look is kept aside."


class BringBackPage(ipywidgets.VBox):
    """The page over a folder of experiments; ``form`` holds the questions, ``refresh`` shows what follows."""

    def __init__(self, folder: str | Path, *, now: Callable[[], datetime] = present, time_zone: str = "") -> None:
        self.folder = Path(folder)
        cultures, promised = Cultures.of(self.folder), Promised(self.folder)
        self.form = Form(cultures=cultures, promised=promised, now=now, changed=self.refresh, time_zone=time_zone)
        self.followed: Followed | None = None
        self.aside: Followed | None = None
        self.answer, self.feeds, self.note, self.warned = Answer(), Note(), Note(), Note()
        self.rests = Fold(title="What these numbers mean and rest on", content=self.numbers)
        self.near = [Button(label="", act=partial(self.choose, n)) for n in range(MOST_NEAREST)]
        self.chart = LiveChart(chart=dressed_with(no_rows()), description=NO_PLAN)
        self.papers = Papers(form=self.form, followed=self.following, taken=self.hold_on)
        self.look_box = LookBox(form=self.form, again=self.look, turn=self.turn)
        self.past = Fold(title="How often such plans came true", content=words.came_true)
        self.keep = Keep(folder=self.folder, plan=self.held, now=now)
        self.resume = Button(label="", act=self.go_on)
        self.show(self._from_the_cold())
        self._offer_to_go_on()
        super().__init__(
            [
                self.resume,
                side_by_side(self.form.seven),
                More(self.form.more),
                self.answer,
                ipywidgets.VBox(self.near),
                self.warned,
                self.chart,
                self.feeds,
                self.papers,
                self.look_box,
                self.note,
                self.rests,
                self.past,
                self.keep,
            ]
        )

    def refresh(self) -> None:
        """Plan anew from the cold jar as the controls have it, or show why there is no plan; a look's plan is kept aside."""
        if self.followed is not None and self.followed.looks:
            self.aside = self.followed
            self.look_box.said.say(ASIDE)
        try:
            self.show(self._from_the_cold())
        except ValueError as error:
            self.show_nothing(error)

    def _from_the_cold(self) -> Followed:
        """Return the plan from the cold jar as the controls have it."""
        plan = self.form.asked().plan()
        return Followed(plans=(plan,), written=self.form.written())

    def look(self, look: Look) -> str:
        """Plan again from a look and return what it told; one that means nothing is refused and changes nothing."""
        words.refuse_ahead(look, now=self.form.now())
        followed = self.following().looked(look)
        if self.following().in_doubt(look):
            raise ValueError(words.HAS_IT_FALLEN)
        standing = shown_feeds(followed)[0]
        words.refuse_too_soon(look, standing)
        self.aside = None
        self.show(followed)
        self.hold_on()
        return words.looked(followed, standing)

    def go_on(self) -> None:
        """Take up the plan that was in hand when the page was last used, with its looks."""
        try:
            kept = read_in_hand(self.folder, now=self.form.now())
            if kept is not None:
                self.form.read(kept.written)
                self._take_up(kept)
        except ValueError as error:
            self.show_nothing(error)
        self.resume.layout.display = "none"

    def hold_on(self) -> None:
        """Keep the plan in hand for a later day, or say why it cannot be kept."""
        try:
            followed, handed = self.following(), self.papers.handed
            calendar = None if handed is None else handed.revision
            kept = InHand(
                written=dict(followed.written), looks=followed.looks, mix=followed.plan.setting.mix, calendar=calendar
            )
            keep_in_hand(self.folder, kept, now=self.form.now())
        except ValueError as error:
            self.keep.said.refuse(error)

    def _take_up(self, kept: InHand) -> None:
        self.form.read(kept.written)
        followed = self._from_the_cold()
        for look in kept.looks:
            followed = followed.looked_before(look)
        if any(look.taken for look in followed.looks):
            self.form.follow(followed.plan)
        if kept.calendar is not None:
            self.papers.hand(followed, revision=kept.calendar)
        self.show(followed)

    def _offer_to_go_on(self) -> None:
        self.resume.layout.display = "none"
        try:
            kept = read_in_hand(self.folder, now=self.form.now())
        except ValueError as error:
            self.keep.said.refuse(error)
            return
        if kept is not None:
            self.resume.label = f"Go on with your plan: dough {day(kept.mix)}"
            self.resume.layout.display = None

    def turn(self) -> None:
        """Go from the plan from a look to one from the cold jar, or back."""
        kept, self.aside = self.aside, None
        if kept is None:
            self.refresh()
        else:
            self.form.read(dict(kept.written))
            self.form.follow(kept.plan)
            self.look_box.said.say(words.looked(kept, shown_feeds(kept)[0]))
            self.show(kept)

    def choose(self, number: int) -> None:
        """Take one of the nearest plans, and move the controls to where it has them."""
        followed = self.following()
        plan = followed.plan.alternatives[number]
        self.form.follow(plan)
        chosen = followed.instead(plan)
        if not chosen.looks:
            self.show(replace(chosen, written=self.form.written()))
            return
        self.show(chosen)
        self.hold_on()

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
        self.warned.tell(*self.form.guesses(), *words.warnings(plan))
        self.feeds.tell(words.unlikely(plan), words.table(plan), *words.advice(plan))
        self.note.tell(Head("Cautions"), *plan.cautions)
        self.rests.renew()
        self._offer(plan)
        self.look_box.name_feeds(followed.most_feeds)
        self.look_box.offer(FORGET if followed.looks else BACK if self.aside else "")
        self.papers.name(followed)

    def show_nothing(self, error: ValueError) -> None:
        """Show why there is no plan, and nothing that could be taken for one."""
        self.followed = None
        self._empty_chart()
        self.rests.renew()
        for note in (self.feeds, self.note, self.warned):
            note.tell()
        for button in self.near:
            button.layout.display = "none"
        self.answer.refuse(error)

    def held(self) -> BringBack:
        """Return the plan that holds, or refuse when there is none."""
        return self.following().plan

    def numbers(self) -> list[str]:
        """Return what the numbers mean and rest on, and which experiments could not be asked."""
        troubles = [*self.form.cultures.troubles, *self.form.promised.troubles]
        plan = self.held()
        return [*words.numbers(plan, self.form.known.told_of(plan.setting.flours)), *troubles]

    def following(self) -> Followed:
        """Return the plan that holds with its looks, or refuse when there is none."""
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
        self.chart.feed(data=no_rows().data, signals={}, description=NO_PLAN)
