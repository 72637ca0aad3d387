"""A feed of one jar: grams as last time until they are changed, the time now unless it is changed."""

from __future__ import annotations

from typing import Any, ClassVar

import ipywidgets
import pandas as pd

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import NumberField, TextField
from fallow.panels.controls.temperature import temperature_field
from fallow.panels.record_a_trial import entries
from fallow.panels.record_a_trial.desk import Desk, SecondEnter, moment_in, number_in
from fallow.panels.record_a_trial.kept import cleared
from fallow.records.feed_numbers import usual_next_kind
from fallow.records.said_time import in_full

KINDS = {
    "last before the cold": "last",
    "after the cold": "recovery",
    "in form": "baseline",
    "dilution series": "dilution",
}


class FeedForm(ipywidgets.VBox):
    """The fields of a feed; what is typed is kept until it is saved."""

    FORM: ClassVar[str] = "feed"

    def __init__(self, desk: Desk, *, jar: str) -> None:
        self._desk, self.jar = desk, jar
        before = _before(desk, jar)
        self.kind = Choice(label="This feed is", options=list(KINDS), value=_usual(desk, jar))
        self.seed = NumberField(label="Seed", unit="g", low=0.01, high=50_000, text=before["seed_g"])
        self.water = NumberField(label="Water", unit="g", low=0.01, high=50_000, text=before["water_g"])
        self.flours = TextField(label="Flours, g (80 bread, 20 rye)", text=before["flours"])
        self.place = TextField(label="Place", text=before["place"])
        self.place_c = temperature_field(label="Temperature there", low=-30, high=60, text=before["place_temp_c"])
        self.water_c = temperature_field(label="Water temperature", low=-30, high=60)
        self.at = desk.moment(label="Mixed at")
        self.answer = Answer()
        for name, control in self.controls.items():
            typed_at = desk.drafts.attach(control, jar=jar, form=self.FORM, name=name)
            if typed_at is not None and self.at.text == "now":
                self.at.text = desk.drafts.said_then(typed_at)
        self._second = SecondEnter()
        for field in self._fields():
            field.observe(self._entered, "enters")
        save = Button(label="Save feed", act=self.save)
        super().__init__([*self.controls.values(), self.answer, save])

    @property
    def controls(self) -> dict[str, TextField | Choice]:
        """The controls by what they hold."""
        return {
            "kind": self.kind, "seed_g": self.seed, "water_g": self.water, "flours": self.flours, "place": self.place,
            "place_temp_c": self.place_c, "water_temp_c": self.water_c, "at": self.at,
        }  # fmt: skip

    def save(self) -> None:
        """Save the feed as it stands in the fields; the grams stay for the next one."""
        if self._desk.do(self._write, answer=self.answer, kept=(self.jar, self.FORM)):
            cleared([self.at], text="now")
            cleared([self.water_c])
            self.kind.value = _usual(self._desk, self.jar)

    def _entered(self, _change: Any) -> None:
        """Show the feed in full at the first Enter, save it at the second."""
        if self._second.comes([self.kind.value, *(field.text for field in self._fields())]):
            self.save()
            return
        try:
            self._see_that_something_went_in()
            at = in_full(at=moment_in(self.at), time_zone=self._desk.time_zone)
            grams = f"{_grams(self.seed, 'seed')}, {_grams(self.water, 'water')}"
            flours = " + ".join(f"{grams:g} g {name}" for name, grams in entries.read_flours(self.flours.text).items())
        except ValueError as error:
            self.answer.refuse(error)
            return
        self.answer.say(f"{grams}, {flours or 'flour not known'}, {at}: Enter again to save.")

    def _fields(self) -> list[TextField]:
        return [control for control in self.controls.values() if isinstance(control, TextField)]

    def _see_that_something_went_in(self) -> None:
        if not any(field.text.strip() for field in (self.seed, self.water, self.flours)):
            message = (
                "Seed, water and flours are all empty; a feed needs one of them at least. Type what went in, and leave empty "
                "what nobody weighed."
            )
            raise ValueError(message)

    def _write(self) -> str:
        self._see_that_something_went_in()
        return entries.save_feed(
            self._desk.experiment,
            jar=self.jar,
            kind=KINDS[self.kind.value],
            at=moment_in(self.at),
            now=self._desk.now(),
            seed_g=number_in(self.seed),
            water_g=number_in(self.water),
            flours=self.flours.text,
            place=self.place.text.strip(),
            place_temp_c=number_in(self.place_c),
            water_temp_c=number_in(self.water_c),
        )


def _usual(desk: Desk, jar: str) -> str:
    kind = usual_next_kind(desk.experiment, jar=jar)
    return next(words for words, named in KINDS.items() if named == kind)


def _before(desk: Desk, jar: str) -> dict[str, str]:
    """Return what the jar's newest feed held, as texts; empty where there was none or nothing is known."""
    names = ("seed_g", "water_g", "place", "place_temp_c")
    feeds = desk.experiment.feeds
    mine = feeds[feeds["jar"] == jar].sort_values("at", kind="stable")
    if not len(mine):
        return {**dict.fromkeys(names, ""), "flours": ""}
    newest = mine.iloc[-1]
    flours = desk.experiment.flours
    given = flours[(flours["jar"] == jar) & (flours["feed"] == newest["feed"])]
    said = ", ".join(f"{row.grams:g} {row.flour}" for row in given.itertuples(index=False))
    return {**{name: _text(newest[name]) for name in names}, "flours": said}


def _grams(field: NumberField, what: str) -> str:
    grams = number_in(field)
    return f"{what} not known" if grams is None else f"{grams:g} g {what}"


def _text(value: object) -> str:
    if pd.isna(value):
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)
