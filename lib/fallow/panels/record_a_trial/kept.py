"""Fields whose text is kept on disk from the first letter until it is saved, and is there again in a new kernel."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import TextField
from fallow.panels.controls.moment import MomentField
from fallow.panels.record_a_trial.text_area import TextArea
from fallow.records.drafts import Draft, Page, Place, keep_drafts, read_drafts
from fallow.records.said_time import said_time

Kept = TextField | TextArea | Choice


class Drafts:
    """The drafts of one experiment as a page sees them; what cannot be kept is told at once."""

    def __init__(
        self, folder: Path, *, now: Callable[[], datetime], time_zone: str, trouble: Callable[[ValueError], None]
    ) -> None:
        self._folder, self._now, self._time_zone, self._trouble = folder, now, time_zone, trouble
        self._drafts: dict[Place, Draft] = {}
        try:
            self._drafts = read_drafts(folder, page=Page.TRIAL_BOOK)
        except ValueError as error:
            trouble(error)

    def places(self) -> set[tuple[str, str]]:
        """Return where drafts stand: the jar (empty for the page's own forms) and the form."""
        return {(place[0], place[1]) for place in self._drafts if len(place) == 3}

    def has(self, *, jar: str, form: str, names: Iterable[str]) -> bool:
        """Say whether a draft stands in one of a form's fields."""
        return any((jar, form, name) in self._drafts for name in names)

    def attach(self, control: Kept, *, jar: str, form: str, name: str) -> datetime | None:
        """Put a kept text back into a control and keep what is typed from now on; return when it was typed."""
        place = (jar, form, name)
        draft = self._drafts.get(place)
        usual = control.value if isinstance(control, Choice) else control.text
        if draft is not None:
            self._restore(control, draft)
        trait = "value" if isinstance(control, Choice) else "typed"

        def keep(_change: Any) -> None:
            text = control.value if isinstance(control, Choice) else control.typed
            self._keep({place: "" if text == usual else text})

        control.observe(keep, trait)
        return None if draft is None else draft.typed_at

    def release(self, *, jar: str, form: str) -> None:
        """Let go of a form's drafts: they are saved, or taken back."""
        mine = [place for place in self._drafts if place[:2] == (jar, form)]
        self._keep(dict.fromkeys(mine, ""))

    def said_then(self, typed_at: datetime, text: str = "now") -> str:
        """Return what a text meant when it was typed, in words that mean the same tomorrow."""
        at = said_time(text=text, now=typed_at, time_zone=self._time_zone)
        short = f"{at:%Y-%m-%d %H:%M:%S}".removesuffix(":00")
        try:
            same = said_time(text=short, now=typed_at, time_zone=self._time_zone) == at
        except ValueError:
            same = False  # an hour the clock shows twice needs its offset
        return short if same else at.isoformat(sep=" ")

    def _restore(self, control: Kept, draft: Draft) -> None:
        if isinstance(control, Choice):
            if draft.text in control.options:
                control.value = draft.text
            return
        text = draft.text
        if isinstance(control, MomentField):
            text = self._as_it_was_meant(draft)
        control.text = control.typed = text

    def _as_it_was_meant(self, draft: Draft) -> str:
        """Return '25 min ago' as the hour it meant when it was typed; what cannot be read stays as it is."""
        try:
            return self.said_then(draft.typed_at, draft.text)
        except ValueError:
            return draft.text  # the field itself says what is wrong with it

    def _keep(self, texts: dict[Place, str]) -> None:
        changed = {place: text for place, text in texts.items() if text != self._text(place)}
        if not changed:
            return
        now = self._now()
        for place, text in changed.items():
            self._drafts.pop(place, None)
            if text:
                self._drafts[place] = Draft(text=text, typed_at=now)
        try:
            keep_drafts(self._folder, page=Page.TRIAL_BOOK, texts=changed, typed_at=now)
        except ValueError as error:
            self._trouble(error)

    def _text(self, place: Place) -> str:
        return self._drafts[place].text if place in self._drafts else ""


def cleared(controls: Iterable[TextField | TextArea], *, text: str = "") -> None:
    """Empty fields after what they held was saved."""
    for control in controls:
        control.text = control.typed = text
