"""What every form of the page stands on: the record, the clock, the drafts, and what happens after a save."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.field import NumberField, TextField
from fallow.panels.controls.moment import MomentField
from fallow.panels.record_a_trial.kept import Drafts
from fallow.records.experiment import Experiment

Fields = dict[str, TextField]


@dataclass(frozen=True, kw_only=True)
class Desk:
    """One opened experiment on the page; ``saved`` is told each sentence of a save."""

    experiment: Experiment
    now: Callable[[], datetime]
    drafts: Drafts
    saved: Callable[[str], None]

    @property
    def time_zone(self) -> str:
        """The kitchen's time zone."""
        return self.experiment.time_zone

    def do(self, act: Callable[[], str], *, answer: Answer, kept: tuple[str, str] | None = None) -> bool:
        """Carry out one entry; say beside the form that it is saved, or why it is not.

        ``kept`` names the jar and the form whose drafts are let go once the entry is on disk.
        """
        try:
            said = act()
        except ValueError as error:
            answer.refuse(error)
            return False
        if kept is not None:
            self.drafts.release(jar=kept[0], form=kept[1])
        answer.say(said)
        self.saved(said)
        return True

    def moment(self, *, label: str, text: str = "now") -> MomentField:
        """Return a field for a time on the kitchen's clock."""
        return MomentField(label=label, time_zone=self.time_zone, now=self.now, text=text)


class SecondEnter:
    """Lets an entry be read before it counts: the first Enter shows it, the second, with nothing changed, saves it."""

    def __init__(self) -> None:
        self._told: tuple[str, ...] | None = None

    def comes(self, texts: Sequence[str]) -> bool:
        """Say whether these very texts were shown before."""
        again = tuple(texts) == self._told
        self._told = None if again else tuple(texts)
        return again


def number_in(field: NumberField) -> float | None:
    """Return a field's number, None while it is empty; refuse what stands in it and cannot be used."""
    field.read()
    if field.message:
        raise ValueError(field.message)
    return field.value


def moment_in(field: MomentField) -> datetime:
    """Return a field's instant, read anew, for 'now' is when it is saved; refuse an empty one."""
    found = moment_or_none(field)
    if found is None:
        message = f"{field.label} is empty; a row needs its time. Write now, 07:40 or yesterday 22:15."
        raise ValueError(message)
    return found


def moment_or_none(field: MomentField) -> datetime | None:
    """Return a field's instant, or None where nothing is known."""
    field.read()
    if field.message:
        raise ValueError(field.message)
    return field.value
