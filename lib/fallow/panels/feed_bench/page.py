"""The bench: seven sliders, one picture, one sentence, the feed in grams, and two settings to compare."""

from __future__ import annotations

from typing import Any

import ipywidgets

from fallow.charts.ledger import dressed_with
from fallow.charts.ledger_rows import ledger_rows, no_rows
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import NumberField
from fallow.panels.controls.live import LiveChart
from fallow.panels.controls.page import More, side_by_side
from fallow.panels.controls.slide import Slide
from fallow.panels.controls.temperature import temperature_field
from fallow.panels.feed_bench import words
from fallow.panels.feed_bench.setting import HELD_C, HELD_HIGH_C, HELD_LOW_C, Setting

LOOSE, CLOSED = "loose", "closed"
NO_PLAN = "no plan"


class FeedBench(ipywidgets.VBox):
    """The page; ``setting`` reads the controls, ``refresh`` shows what follows."""

    def __init__(self) -> None:
        self.seed = Slide(label="Seed", unit="g", low=2, high=100, step=1, value=20)
        self.water = Slide(label="Water", unit="g", low=10, high=300, step=5, value=100)
        self.bread = Slide(label="Bread flour", unit="g", low=0, high=300, step=5, value=80)
        self.rye = Slide(label="Rye flour", unit="g", low=0, high=300, step=5, value=20)
        self.now = Slide(label="Temperature now", unit="°C", low=2, high=34, step=0.5, value=24)
        self.later = Slide(label="Temperature later", unit="°C", low=2, high=34, step=0.5, value=24)
        self.moved = Slide(label="Moved after", unit="h", low=0, high=24, step=0.5, value=4)
        self.fed_at = NumberField(label="Fed at", unit="hours on the clock, 0 to 24", low=0, high=24, text="21")
        self.mixed = temperature_field(label="Temperature of the mix", low=0, high=45, empty="as its place")
        self.lid = Choice(label="Lid", options=[LOOSE, CLOSED])
        self.held = Slide(label="Seed rested cold for", unit="days", low=0, high=60, step=1, value=0)
        self.held_c = temperature_field(
            label="The seed rested at", low=HELD_LOW_C, high=HELD_HIGH_C, empty=f"{HELD_C:g}"
        )
        sliders = [self.seed, self.water, self.bread, self.rye, self.now, self.later, self.held]
        rest = [self.moved, self.fed_at, self.mixed, self.held_c, self.lid]
        self.answer, self.note, self.compared = Answer(), Note(), Note()
        self.pinned: dict[str, Setting] = {}
        setting = self.setting()
        self.chart = LiveChart(chart=dressed_with(ledger_rows(setting.ledger())), description=setting.sentence())
        pins = [Button(label=f"Pin as {name}", act=lambda name=name: self.pin(name)) for name in ("A", "B")]
        for control in [*sliders, *rest]:
            control.observe(self.refresh, "value")
        self.refresh()
        more = More(rest)
        super().__init__(
            [side_by_side(sliders), self.answer, self.chart, more, ipywidgets.HBox(pins), self.compared, self.note]
        )

    def setting(self) -> Setting:
        """Return where the controls stand."""
        return Setting(
            seed_g=self.seed.value,
            water_g=self.water.value,
            bread_g=self.bread.value,
            rye_g=self.rye.value,
            now_c=self.now.value,
            later_c=self.later.value,
            moved_hours=self.moved.value,
            held_days=self.held.value,
            held_c=HELD_C if self.held_c.value is None else self.held_c.value,
            fed_at_hours=21.0 if self.fed_at.value is None else self.fed_at.value,
            mixed_c=self.mixed.value,
            lid_closed=self.lid.value == CLOSED,
        )

    def refresh(self, _change: Any = None) -> None:
        """Show the picture, the sentence and the numbers of the present setting, or why there is none."""
        try:
            setting = self.setting()
            said = setting.sentence()
            rows = ledger_rows(setting.ledger())
        except ValueError as error:
            self.show_nothing(error)
            return
        self.note.tell(words.recipe(setting.feed), words.ratio_text(setting.feed), *words.cautions(setting))
        self.chart.feed(data=rows.data, signals=rows.signals, description=said)
        self.answer.say(said)

    def show_nothing(self, error: ValueError) -> None:
        """Show why there is no answer, and no picture that could be taken for one."""
        self.chart.feed(data=no_rows().data, signals={}, description=NO_PLAN)
        self.note.tell(words.WARM, words.LID)
        self.answer.refuse(error)

    def pin(self, name: str) -> None:
        """Keep the present setting as A or B, beside the other."""
        try:
            setting = self.setting()
            setting.sentence()
        except ValueError as error:
            self.answer.refuse(error)
            return
        self.pinned = dict(sorted((self.pinned | {name: setting}).items()))
        self.compared.tell(words.side_by_side(self.pinned))
