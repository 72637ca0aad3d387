"""The trial book: choose an experiment, and keep it at the bench with wet hands."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import ipywidgets

from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import TextField
from fallow.panels.controls.form import present
from fallow.panels.controls.page import side_by_side
from fallow.panels.record_a_trial.alive import Alive
from fallow.panels.record_a_trial.card import JarCard
from fallow.panels.record_a_trial.desk import Desk
from fallow.panels.record_a_trial.due import Book, Due
from fallow.panels.record_a_trial.fold import FoldedForm, in_a_row
from fallow.panels.record_a_trial.kept import Drafts
from fallow.panels.record_a_trial.new_experiment import NewExperiment
from fallow.panels.record_a_trial.new_jar import NewJar
from fallow.panels.record_a_trial.paste_form import PasteForm
from fallow.panels.record_a_trial.shelf import at_the_bench
from fallow.panels.record_a_trial.undo import Undo
from fallow.panels.record_a_trial.words import CAUTION
from fallow.records.experiment import Experiment
from fallow.records.package import experiments_in

NEW = "a new experiment"
AT_FIRST = 6
_GRID = {
    "grid_template_columns": "repeat(auto-fill, minmax(290px, 1fr))",
    "grid_gap": "10px",
    "align_items": "flex-start",
}


class RecordATrial(ipywidgets.VBox):
    """The page over a folder of experiments; ``now`` gives the present instant."""

    def __init__(self, folder: str | Path, *, now: Callable[[], datetime] = present) -> None:
        self.folder, self.now = Path(folder), now
        self.desk: Desk | None = None
        self.cards: dict[str, JarCard] = {}
        self.due: list[Due] = []
        self._shown = AT_FIRST
        self.alive = Alive(on_beat=self.beat)
        names = experiments_in(self.folder)
        self.answer, self.note = Answer(), Note()
        self.beginnings = Drafts(self.folder, now=now, time_zone="UTC", trouble=self.answer.refuse)
        first = NEW if self.beginnings.places() else at_the_bench(self.folder, names) or NEW
        self.experiment = Choice(label="Experiment", options=[*names, NEW], value=first)
        self.find = TextField(label="Find a jar")
        self.grid = ipywidgets.GridBox([], layout=ipywidgets.Layout(**_GRID))
        self.more_jars = Button(label="Show more jars", act=self.show_more)
        self.experiment.observe(self.choose, "value")
        self.find.observe(self.refind, "typed")
        self.find.observe(self.go_to_first, "enters")
        self.body = ipywidgets.VBox([])
        super().__init__([self.alive, side_by_side([self.experiment, self.find]), self.answer, self.body])
        self.choose()

    def choose(self, _change: Any = None) -> None:
        """Open the experiment that was chosen, or say why it cannot be opened."""
        self.desk, self.cards, self.due, self._shown = None, {}, [], AT_FIRST
        self.grid.children = []
        self.find.typed = self.find.text = ""
        self.find.layout.display = "none"
        if self.experiment.value == NEW:
            self.answer.say("Begin an experiment: say what it asks.")
            self.new = NewExperiment(self.folder, drafts=self.beginnings, made=self.begun)
            self.body.children = [self.new]
            return
        try:
            self.desk = self._open(self.folder / self.experiment.value)
        except ValueError as error:
            self.answer.refuse(error)
            self.body.children = []
            return
        self.new_jar = FoldedForm(title="New jar", form=lambda: NewJar(self._desk()))
        self.paste = FoldedForm(title="Paste rows", form=lambda: PasteForm(self._desk()))
        self.undo = Undo(self.desk)
        self.note.tell(CAUTION)
        tools = in_a_row([self.new_jar.switch, self.paste.switch])
        self.body.children = [
            self.undo, self.grid, self.more_jars, tools, self.new_jar, self.paste, self.note
        ]  # fmt: skip
        if self.look():
            self.arrange()
            self._unfold_drafts()

    def begun(self, name: str) -> None:
        """Turn to an experiment that was just begun."""
        self.experiment.options = [*sorted({*self.experiment.options, name} - {NEW}), NEW]
        self.experiment.value = name

    def look(self) -> bool:
        """Read the record anew, or say why it cannot be read."""
        try:
            self.due = Book.read(self._desk().experiment).due(now=self.now())
        except ValueError as error:
            self.answer.refuse(error)
            return False
        self.tell_count()
        return True

    def tell_count(self) -> None:
        """Say how many jars are open and how many are due."""
        ready = sum(one.due_now for one in self.due)
        jars = f"{len(self.due)} jar{'s' * (len(self.due) > 1)} open, {ready or 'none'} due now."
        invented = " These data are invented; for your own, choose a new experiment." * self._desk().experiment.invented
        self.answer.say(f"{jars if self.due else 'No jar is open. Add one below.'}{invented}")

    def arrange(self) -> None:
        """Lay out the cards that are asked for: those with a draft, then those due first, among those that match."""
        drafted = {jar for jar, _ in self._desk().drafts.places()}
        wanted = [one for one in self.due if self._matches(one)]
        wanted.sort(key=lambda one: one.jar not in drafted)
        shown = wanted[: self._shown]
        self.grid.children = [self._card(one) for one in shown]
        left = len(wanted) - len(shown)
        self.more_jars.label = f"Show {min(left, 12)} more of {left}"
        self.more_jars.layout.display = "" if left else "none"
        self.find.layout.display = "" if len(self.due) > AT_FIRST else "none"

    def show_more(self) -> None:
        """Show another dozen."""
        self._shown += 12
        self.arrange()

    def refind(self, _change: Any) -> None:
        """Show the jars whose name, culture or treatment holds what was typed."""
        self._shown = AT_FIRST
        if self.desk is not None:
            self.arrange()

    def go_to_first(self, _change: Any) -> None:
        """Move the keyboard from the search to the first jar found."""
        self.refind(_change)
        if self.grid.children:
            self.grid.children[0].height.wants_keyboard = True

    def saved(self, _said: str) -> None:
        """Show what is next after a save; cards keep their places."""
        if not self.look():
            return
        before = [card.jar for card in self.grid.children]
        found = {one.jar: one for one in self.due}
        room = len(before) < self._shown
        if set(before) - set(found) or (room and set(found) - set(before)):
            self.arrange()
        self.tell()
        self.undo.look()

    def tell(self) -> None:
        """Let every card on show say how its jar stands now."""
        found = {one.jar: one for one in self.due}
        for card in self.grid.children:
            if card.jar in found:
                card.show(found[card.jar])

    def beat(self) -> None:
        """Let 'now' be now on every card, and say what has become due."""
        if self.desk is not None and self.look():
            for card in self.grid.children:
                card.refresh_clock()
            self.tell()

    def pass_on(self, card: JarCard) -> None:
        """Move the keyboard to the next card's height."""
        cards = list(self.grid.children)
        if card in cards:
            cards[(cards.index(card) + 1) % len(cards)].height.wants_keyboard = True

    def _open(self, folder: Path) -> Desk:
        experiment = Experiment.open(folder)
        problems = experiment.check()
        if problems:
            raise ValueError(str(problems[0]))
        drafts = Drafts(folder, now=self.now, time_zone=experiment.time_zone, trouble=self.answer.refuse)
        return Desk(experiment=experiment, now=self.now, drafts=drafts, saved=self.saved)

    def _desk(self) -> Desk:
        if self.desk is None:
            message = "no experiment is open; a row needs one. Choose it above."
            raise ValueError(message)
        return self.desk

    def _card(self, due: Due) -> JarCard:
        if due.jar not in self.cards:
            self.cards[due.jar] = JarCard(due, self._desk(), passed_on=self.pass_on)
        return self.cards[due.jar]

    def _matches(self, due: Due) -> bool:
        wanted = self.find.typed.strip().casefold()
        return wanted in f"{due.jar} {due.about}".casefold()

    def _unfold_drafts(self) -> None:
        forms = {form for jar, form in self._desk().drafts.places() if not jar}
        for fold, form in ((self.new_jar, NewJar.FORM), (self.paste, PasteForm.FORM)):
            if form in forms:
                fold.unfold()
