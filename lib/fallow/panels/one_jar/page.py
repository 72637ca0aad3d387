"""The page: four questions and an answer; then what was done, written down; then what the record says."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets
import pandas as pd

from fallow.charts.ledger import dressed_with
from fallow.charts.ledger_rows import Ledger, ledger_rows, no_rows
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.fold import Fold
from fallow.panels.controls.form import present
from fallow.panels.controls.live import LiveChart
from fallow.panels.controls.markup import Part
from fallow.panels.controls.page import More, side_by_side
from fallow.panels.one_jar import from_record, words
from fallow.panels.one_jar.asked import USUAL_FEED, Asked, likely_enough
from fallow.panels.one_jar.form import Form, needed
from fallow.panels.one_jar.logbook import Logbook
from fallow.panels.one_jar.picture import ledger_of
from fallow.panels.one_jar.underway import Underway
from fallow.plans.clock import next_half_hour
from fallow.plans.draws import Culture
from fallow.plans.saved import save_plan, saved_plans
from fallow.records.drafts import Page, keep_drafts, read_drafts
from fallow.records.one_jar import NAME, Stage

if TYPE_CHECKING:
    from fallow.panels.one_jar.evidence import Evidence

NO_PLAN = "no plan"


class OneJar(ipywidgets.VBox):
    """The page over a folder of experiments; its own record is ``name`` there, or the next free name."""

    def __init__(
        self, folder: str | Path, *, name: str = NAME, now: Callable[[], datetime] = present, time_zone: str = ""
    ) -> None:
        self.form = Form(now=now, changed=self.moved, time_zone=time_zone)
        self.answer, self.note, self.warned = Answer(), Note(), Note()
        self.near = [Button(label="", act=partial(self.take, n)) for n in range(words.MOST_NEAREST)]
        self.logbook = Logbook(folder=Path(folder), name=name, form=self.form, changed=self.saved)
        self.evidence = self._evidence()
        self.asked_now: Asked | None = None
        self.question: Asked | None = None
        self.record = Fold(title="What your record says so far", content=self._told)
        self._go_on()
        self._follow_record()
        self.chart = LiveChart(chart=dressed_with(no_rows()), description=NO_PLAN)
        self._answer(self._question())
        super().__init__(
            [
                side_by_side(self.form.four[:2]),
                side_by_side(self.form.four[2:]),
                self.answer,
                ipywidgets.VBox(self.near),
                More(self.form.more, label="More about your kitchen"),
                self.chart,
                self.note,
                self.logbook,
                self.record,
                self.warned,
            ]
        )

    def asked(self) -> Asked:
        """Return the question as the controls and the record have it, or refuse the first box that cannot be used."""
        zone = self.form.zone.value
        here = {name: pd.Timestamp(needed(box)).tz_convert(zone) for name, box in self.form.moments.items()}
        asked = Asked(
            now=next_half_hour(pd.Timestamp(self.form.now()).tz_convert(zone)),
            fed_at=here["fed"],
            days_away=float(needed(self.form.days)),
            hold_temp_c=self.form.hold_temp_c,
            mix_at=here["mix"],
            kitchen_c=float(needed(self.form.kitchen)),
            warm_c=float(needed(self.form.warm)) if self.form.warm.text.strip() else None,
            bench_hours=float(needed(self.form.bench)),
            ripe_g=float(needed(self.form.ripe)),
            keep_g=float(needed(self.form.keep)),
            awake=needed(self.form.awake),
            culture=Culture() if self.evidence is None else self.evidence.culture,
        )
        now = self.logbook.standing
        return asked if now is None or now.stage is Stage.AT_HOME else from_record.known(asked, now)

    def underway(self, asked: Asked) -> Underway | None:
        """Return the feeds after the cold with their looks; None before the first."""
        now = self.logbook.standing
        return None if now is None else from_record.underway(asked, now, zone=self.form.zone.value)

    def moved(self) -> None:
        """Answer again after a control moved, and keep what was typed for the next time."""
        self.refresh()
        self._keep()

    def saved(self) -> None:
        """Answer again from the record after something was written down."""
        self.evidence = self._evidence()
        self._keep()
        self.refresh()
        self._save_plan()

    def refresh(self) -> None:
        """Show sentence, picture and numbers for what is asked, or why there is no answer."""
        self._follow_record()
        self._answer(self._question())

    def _question(self) -> Asked | ValueError:
        try:
            asked = self.asked()
        except ValueError as error:
            return error
        # The same question keeps its plan: saving a look at home changes no answer.
        self.question = self.question if self.question == asked else asked
        return self.question

    def _answer(self, asked: Asked | ValueError) -> None:
        try:
            if isinstance(asked, ValueError):
                raise asked
            underway = self.underway(asked)
            self.form.days.shown = words.days_hint(asked, fed=underway is not None)
            if underway is None:
                self._show(asked, words.answer(asked), ledger_of(asked))
                self._look_further(asked)
            else:
                self._show(underway.asked, words.underway(underway), underway.ledger(), underway)
        except ValueError as error:
            self.show_nothing(error)
        self.record.renew()

    def show_nothing(self, error: ValueError) -> None:
        """Show why there is no answer, and nothing that could be taken for one."""
        self.asked_now, self.form.days.shown = None, ""
        self._hide_offers()
        self.chart.feed(data=no_rows().data, signals={}, description=NO_PLAN)
        self.note.tell()
        self.warned.tell()
        self.answer.refuse(error)

    def _show(self, asked: Asked, said: str, ledger: Ledger | None, underway: Underway | None = None) -> None:
        self.asked_now = asked
        self._hide_offers()
        self.answer.say(said)
        if ledger is None:
            self.chart.feed(data=no_rows().data, signals={}, description=NO_PLAN)
        else:
            rows = ledger_rows(ledger)
            self.chart.feed(data=rows.data, signals=rows.signals, description=said)
        plan = asked.plan if underway is None else underway.next_plan
        table = [] if plan is None or not plan.steps else [words.feeds_table(plan, now=asked.now)]
        near = [] if plan is None or underway is None or likely_enough(plan) else words.nearby(plan, now=asked.now)
        self.note.tell(*near, *table, words.HOW_TO_READ, words.taken_for_granted(asked))
        self.warned.tell(*words.cautions_for(asked))

    def _look_further(self, asked: Asked) -> None:
        """Where the wish cannot be met, offer what would do; the answer stands already, for this may take a while."""
        if asked.fits:
            return
        for button, plan in zip(self.near, asked.plan.alternatives, strict=False):
            button.label = f"Take this: {plan.change.rstrip('.')}"
            button.layout.display = None
        self.note.tell(*words.nearby(asked.plan, now=asked.now), words.HOW_TO_READ, words.taken_for_granted(asked))

    def take(self, number: int) -> None:
        """Take one of the offered plans: move the boxes to where it has them."""
        if self.asked_now is None:
            return
        plan = self.asked_now.plan.alternatives[number]
        self.form.take(plan.setting)
        self.moved()

    def _hide_offers(self) -> None:
        for button in self.near:
            button.layout.display = "none"

    def _follow_record(self) -> None:
        """Let the first boxes show what is written down already."""
        now = self.logbook.standing
        if now is not None and now.stage is not Stage.AT_HOME:
            self.form.follow(fed_at=from_record.fed_text(now, zone=self.form.zone.value), hold_temp_c=now.hold_temp_c)

    def _evidence(self) -> Evidence | None:
        if self.logbook.experiment is None:
            return None
        # The statistics take a third of the start; a page without a record does not wait for them.
        from fallow.panels.one_jar.evidence import Evidence

        return Evidence(self.logbook.experiment)

    def _told(self) -> Sequence[Part]:
        if self.logbook.experiment is None or self.evidence is None:
            return ["Nothing is on record yet: the answer above rests on start values. Write your first holiday down."]
        asked = self.asked_now
        if asked is None:
            return ["There is no answer above to hold against the record. Correct what stands in red first."]
        from fallow.stats.ledger_forecast import Schedule

        return self.evidence.told(
            Schedule(
                days_held=asked.days_held,
                hold_temp_c=asked.hold_temp_c,
                dilution=(asked.plan.weighed[0] if asked.plan.weighed else USUAL_FEED).dilution,
                place_temp_c=asked.kitchen_c,
            )
        )

    def _save_plan(self) -> None:
        """Keep the plan a jar comes out of the cold with, so that what happens is held against it."""
        experiment, now = self.logbook.experiment, self.logbook.standing
        if experiment is None or now is None or now.stage is not Stage.BACK or now.next_feed > 1:
            return
        asked = self.asked_now
        if asked is not None and asked.plan.steps and not (saved_plans(experiment)["jar"] == now.jar).any():
            save_plan(experiment, asked.plan, jar=now.jar, made_at=self.form.now())

    def _keep(self) -> None:
        """Keep what stands in the boxes beside the record, once there is one."""
        experiment = self.logbook.experiment
        if experiment is None:
            return
        try:
            text = json.dumps(self.form.written())
            keep_drafts(experiment.folder, page=Page.ONE_JAR, texts={(): text}, typed_at=self.form.now())
        except ValueError as error:
            self.logbook.said.refuse(error)

    def _go_on(self) -> None:
        """Put back what stood in the boxes when an open jar was left."""
        experiment, now = self.logbook.experiment, self.logbook.standing
        if experiment is None or now is None or now.stage is Stage.AT_HOME:
            return
        try:
            kept = read_drafts(experiment.folder, page=Page.ONE_JAR).get(())
            if kept is not None:
                self.form.read(json.loads(kept.text))
        except ValueError as error:
            self.logbook.said.refuse(error)
