"""The small forms under 'Write it down': a feed, into the fridge, out of it, a look, the end; each hands over what it holds."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

import ipywidgets

from fallow.panels.controls import form as shared
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import NumberField, TextField
from fallow.panels.controls.moment import MomentField
from fallow.panels.controls.page import More, side_by_side
from fallow.panels.controls.temperature import temperature_field
from fallow.panels.one_jar.form import SHELVES
from fallow.records.one_jar_log import Ending, GivenFeed

NOW = "now"
needed = partial(shared.needed, by="the record")
LAST, ORDINARY = "the last one before the fridge", "an ordinary one, no journey"
TOPS = {"not said": "", "domed": "domed", "flat": "flat", "fallen": "fallen"}
ENDINGS = {
    "in form again: the holiday is over": Ending.DONE,
    "given up: thrown away or begun anew": Ending.LOST,
    "the jar broke": Ending.BROKEN,
}
Moment = Callable[[str, str], MomentField]


class FeedEntry(ipywidgets.VBox):
    """One feed: when, what went in, how warm, and how high it stood right after."""

    def __init__(self, *, moment: Moment, save: Callable[[], None], label: str, kitchen_c: str) -> None:
        self.kind = Choice(label="This feed is", options=[LAST, ORDINARY])
        self.at = moment("Fed at", NOW)
        self.seed = NumberField(label="Old starter", unit="g", low=0.1, high=20_000)
        self.water = NumberField(label="Water", unit="g", low=0.1, high=20_000)
        self.flours = {
            "bread": NumberField(label="White or bread flour", unit="g", low=0, high=20_000),
            "wholemeal": NumberField(label="Wholemeal flour", unit="g", low=0, high=20_000),
            "rye": NumberField(label="Rye flour", unit="g", low=0, high=20_000),
        }
        self.place = temperature_field(label="Where it stands", low=0, high=45, text=kitchen_c)
        self.height = NumberField(label="Height right after", unit="mm", low=0, high=2000, hint="if measured")
        fields = [self.at, self.seed, self.water, *self.flours.values(), self.place, self.height]
        self.button = Button(label=label, act=save)
        super().__init__([self.kind, side_by_side(fields), self.button])

    def given(self) -> GivenFeed:
        """Return the feed, or refuse with the first box that is empty or cannot be read."""
        if self.at.text.strip() == NOW:
            self.at.read()
        flours = {name: float(needed(box)) for name, box in self.flours.items() if box.text.strip()}
        flours = {name: grams for name, grams in flours.items() if grams > 0}
        if not flours:
            message = "No flour is written down; a feed needs some. Type the grams of at least one flour."
            raise ValueError(message)
        return GivenFeed(
            at=needed(self.at),
            seed_g=float(needed(self.seed)),
            water_g=float(needed(self.water)),
            flours_g=flours,
            place_temp_c=float(needed(self.place)),
            height=float(needed(self.height)) if self.height.text.strip() else None,
        )

    def clear(self) -> None:
        """Empty it after a save; the kitchen's temperature stays."""
        for box in (self.seed, self.water, self.height, *self.flours.values()):
            box.text = ""
        self.at.text = NOW


class HoldEntry(ipywidgets.VBox):
    """Into the fridge: when, where, how cold."""

    def __init__(self, *, moment: Moment, save: Callable[[], None]) -> None:
        self.at = moment("Into the fridge at", NOW)
        self.shelf = Choice(label="Shelf", options=list(SHELVES), value=list(SHELVES)[1])
        self.thermometer = temperature_field(label="Thermometer there", low=-5, high=30, empty="as the shelf")
        super().__init__(
            [
                side_by_side([self.at, self.shelf, self.thermometer]),
                Button(label="Save: it is in the fridge", act=save),
            ]
        )

    def held(self) -> tuple[datetime, str, float]:
        """Return when, where and how cold."""
        if self.at.text.strip() == NOW:
            self.at.read()
        temp_c = float(needed(self.thermometer)) if self.thermometer.text.strip() else SHELVES[self.shelf.value]
        return needed(self.at), self.shelf.value.partition(",")[0], temp_c


class OutEntry(ipywidgets.VBox):
    """Out of the fridge: when."""

    def __init__(self, *, moment: Moment, save: Callable[[], None]) -> None:
        self.at = moment("Out of the fridge at", NOW)
        super().__init__([self.at, Button(label="Save: it is out", act=save)])

    def out_at(self) -> datetime:
        """Return when it came out."""
        if self.at.text.strip() == NOW:
            self.at.read()
        at: datetime = needed(self.at)
        return at


class LookEntry(ipywidgets.VBox):
    """One look at the jar: height and Enter is enough."""

    def __init__(self, *, moment: Moment, save: Callable[[], None]) -> None:
        self.height = NumberField(label="Height now", unit="mm, then Enter", low=0, high=2000)
        self.at = moment("Seen at", NOW)
        self.top = Choice(label="Top", options=list(TOPS))
        self.height.observe(lambda _change: save(), "enters")
        super().__init__([side_by_side([self.height, self.at, self.top]), Button(label="Save this look", act=save)])

    def seen(self) -> tuple[datetime, float | None, str]:
        """Return when, how high and how the top looked; refuse a look that saw nothing."""
        if self.at.text.strip() == NOW:
            self.at.read()
        top = TOPS[self.top.value]
        height = None if not self.height.text.strip() and top else float(needed(self.height))
        return needed(self.at), height, top

    def clear(self) -> None:
        """Empty it after a save."""
        self.height.text, self.at.text, self.top.value = "", NOW, next(iter(TOPS))


class EndEntry(ipywidgets.VBox):
    """How the holiday ended."""

    def __init__(self, *, save: Callable[[], None]) -> None:
        self.ending = Choice(label="How it ended", options=list(ENDINGS))
        self.note = TextField(label="A word for next year")
        button = Button(label="Close this holiday", act=save)
        super().__init__([More([self.ending, self.note, button], label="The holiday is over, or the jar is lost")])

    def ended(self) -> tuple[Ending, str]:
        """Return how it ended, and the note."""
        return ENDINGS[self.ending.value], self.note.text.strip()


def shown(widget: Any, *, if_: bool) -> None:
    """Show a form or take it out of sight."""
    widget.layout.display = None if if_ else "none"
