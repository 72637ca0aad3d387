"""One open jar: what to do next, the last look, and a place to type the next one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import ipywidgets

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import NumberField, TextField
from fallow.panels.record_a_trial import entries
from fallow.panels.record_a_trial.desk import Desk, SecondEnter, moment_in, number_in
from fallow.panels.record_a_trial.due import Due
from fallow.panels.record_a_trial.feed_form import FeedForm
from fallow.panels.record_a_trial.fold import FoldedForm, in_a_row
from fallow.panels.record_a_trial.heading import Heading
from fallow.panels.record_a_trial.jar_form import JarForm
from fallow.panels.record_a_trial.kept import cleared
from fallow.panels.record_a_trial.words import DOMES, ago, plain
from fallow.records.said_time import in_full

FORM = "look"
# Our choice: an Enter this long after the last key may no longer mean now.
STILL_NOW = timedelta(minutes=5)
_LAYOUT = {"border": "1px solid var(--jp-border-color1, #b6c0c9)", "padding": "6px 8px", "margin": "0"}


class MoreSeen(ipywidgets.VBox):
    """What a look can hold beside the height."""

    def __init__(self, desk: Desk, *, jar: str, enter: Callable[[], None]) -> None:
        self.dome = Choice(label="Dome", options=list(DOMES))
        self.ph = NumberField(label="pH", unit="", low=1, high=9)
        self.bubbles = TextField(label="Bubbles")
        self.smell = TextField(label="Smell, from a distance")
        self.note = TextField(label="Note")
        for name, control in self.controls.items():
            desk.drafts.attach(control, jar=jar, form=FORM, name=name)
        for field in self.fields:
            field.observe(lambda _change: enter(), "enters")
        super().__init__(list(self.controls.values()))

    @property
    def controls(self) -> dict[str, TextField | Choice]:
        """The controls by the column they fill."""
        return {"dome": self.dome, "ph": self.ph, "bubbles": self.bubbles, "smell": self.smell, "note": self.note}

    @property
    def fields(self) -> list[TextField]:
        """The controls that take text."""
        return [self.ph, self.bubbles, self.smell, self.note]

    def seen(self) -> dict[str, object]:
        """Return what was noted, by column."""
        dome = self.dome.value
        texts = {
            name: field.text.strip() for name, field in self.controls.items() if name in ("bubbles", "smell", "note")
        }
        return {"dome": "" if dome == DOMES[0] else dome, "ph": number_in(self.ph), **texts}

    def clear(self) -> None:
        """Empty it after a save."""
        self.dome.value = DOMES[0]
        cleared(self.fields)


class JarCard(ipywidgets.VBox):
    """A card; Enter in the height saves it, ``passed_on`` moves the keyboard to the next card."""

    def __init__(self, due: Due, desk: Desk, *, passed_on: Callable[[JarCard], None]) -> None:
        self.jar, self._desk, self._passed_on = due.jar, desk, passed_on
        name = plain(due.jar, longest=24)
        self.heading, self.answer = Heading(), Answer()
        self.height = NumberField(label=f"{name}: height", unit=due.height_unit, low=0, high=5000)
        self.at = desk.moment(label=f"{name}: when")
        self._second, self._typed, self._typed_at = SecondEnter(), "", desk.now()
        self.more = FoldedForm(title="More", form=self._more)
        self.feed = FoldedForm(title="Feed", form=lambda: FeedForm(desk, jar=due.jar))
        self.about_jar = FoldedForm(title="Cold or end", form=lambda: JarForm(desk, jar=due.jar))
        self.show(due)
        self._take_drafts()
        self.height.observe(self._height_entered, "enters")
        self.height.observe(self._typing, "typed")
        self.at.observe(self._time_entered, "enters")
        fields = ipywidgets.VBox([self.height, self.at])
        folds = [self.more, self.feed, self.about_jar]
        buttons = in_a_row([Button(label="Save", act=self.save), *(fold.switch for fold in folds)])
        super().__init__([self.heading, fields, self.answer, buttons, *folds], layout=ipywidgets.Layout(**_LAYOUT))
        self.add_class("fallow-card")

    def show(self, due: Due) -> None:
        """Show what is next and what was last."""
        self.heading.tell(name=plain(due.jar), about=due.about, next_text=due.next_text, last_text=due.last_text)
        self.heading.due_now = due.due_now

    def refresh_clock(self) -> None:
        """Let 'now' be now."""
        if self.at.text == "now":
            self.at.read()

    def save(self) -> None:
        """Save the look as it stands in the fields."""
        if self._desk.do(self._write, answer=self.answer, kept=(self.jar, FORM)):
            cleared([self.height])
            cleared([self.at], text="now")
            if isinstance(self.more.inside, MoreSeen):
                self.more.inside.clear()
            self._passed_on(self)

    def _write(self) -> str:
        seen = self.more.inside.seen() if isinstance(self.more.inside, MoreSeen) else {}
        now = self._desk.now()
        return entries.save_reading(
            self._desk.experiment, jar=self.jar, at=moment_in(self.at), now=now, height=number_in(self.height), **seen
        )

    def _height_entered(self, _change: Any) -> None:
        self._enter()

    def _time_entered(self, _change: Any) -> None:
        self._enter()

    def _typing(self, _change: Any) -> None:
        self._note_typing()
        self.refresh_clock()

    def _note_typing(self) -> None:
        """Remember when the height last changed; an Enter may be heard before the letters that came with it."""
        if self.height.typed != self._typed:
            self._typed, self._typed_at = self.height.typed, self._desk.now()

    def _enter(self) -> None:
        """Save, but show a time that was changed in full first and wait for another Enter."""
        self._note_typing()
        recent = not self.height.text or self._desk.now() - self._typed_at < STILL_NOW
        fresh = self.at.text.strip() == "now" and recent
        if fresh or self._second.comes([self.height.text, self.at.text]):
            self.save()
            return
        try:
            at = moment_in(self.at)
        except ValueError as error:
            self.answer.refuse(error)
            return
        height = self.height.text.strip() or "no height"
        late = self.at.text.strip() == "now"
        typed = f" It was typed {ago(self._typed_at, now=self._desk.now())}." * late
        self.answer.say(f"{height}, {in_full(at=at, time_zone=self._desk.time_zone)}: Enter again to save.{typed}")

    def _more(self) -> MoreSeen:
        return MoreSeen(self._desk, jar=self.jar, enter=self._enter)

    def _take_drafts(self) -> None:
        """Put back what was typed before; its 'now' is the moment it was typed."""
        drafts = self._desk.drafts
        forms = {form for jar, form in drafts.places() if jar == self.jar}
        typed_at = drafts.attach(self.height, jar=self.jar, form=FORM, name="height")
        drafts.attach(self.at, jar=self.jar, form=FORM, name="at")
        if typed_at is not None and self.at.text == "now":
            self.at.text = drafts.said_then(typed_at)
        if FORM in forms:
            if drafts.has(jar=self.jar, form=FORM, names=("dome", "ph", "bubbles", "smell", "note")):
                self.more.unfold()
            self.answer.say("Typed before and not saved yet. Check the time, then Enter.")
        if FeedForm.FORM in forms:
            self.feed.unfold()
        if JarForm.FORM in forms:
            self.about_jar.unfold()
