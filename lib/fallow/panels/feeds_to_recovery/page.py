"""Choose an experiment, describe a jar, and see by which feed such jars are ready."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ipywidgets
import pandas as pd

from fallow.charts.recovery import Recovery, recovery_chart, recovery_rows
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.live import LiveChart
from fallow.panels.controls.page import side_by_side
from fallow.panels.controls.slide import Slide
from fallow.panels.feeds_to_recovery.asked import WORDS, Asked, nothing_yet, sentence
from fallow.panels.feeds_to_recovery.study import Study, experiments_in

NOT_READ = "no experiment read yet"


class FeedsToRecovery(ipywidgets.VBox):
    """The page over a folder of experiments."""

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder)
        self.experiment = Choice(label="Experiment", options=experiments_in(self.folder))
        self.days = Slide(label="Days held", unit="days", low=1, high=120, step=1, value=21)
        self.hold = Slide(label="Hold temperature", unit="°C", low=0, high=12, step=0.5, value=4)
        self.rye = Slide(label="Rye in the feeds", unit="%", low=0, high=100, step=1, value=0)
        self.place = Slide(label="Recovery temperature", unit="°C", low=16, high=30, step=0.5, value=24)
        self.between = Slide(label="Hours between feeds", unit="h", low=4, high=48, step=1, value=12)
        self.study: Study | None = None
        self.culture = Choice(label="Culture", options=[NOT_READ])
        self.answer, self.note = Answer(), Note()
        self.chart = LiveChart(chart=recovery_chart(nothing_yet()), description=NOT_READ)
        self.sliders = [self.days, self.hold, self.rye, self.place, self.between]
        for control in [*self.sliders, self.culture]:
            control.observe(self.refresh, "value")
        self.experiment.observe(self.read, "value")
        self.read()
        controls = side_by_side([self.experiment, self.culture, *self.sliders])
        super().__init__([controls, self.answer, self.chart, self.note])

    def asked(self) -> Asked:
        """Return the jar the controls describe."""
        return Asked(
            days_held=self.days.value,
            hold_temp_c=self.hold.value,
            rye_fraction=self.rye.value / 100,
            place_temp_c=self.place.value,
            hours_between_feeds=self.between.value,
            culture=self.culture.value,
        )

    def read(self, _change: Any = None) -> None:
        """Read and fit the experiment that was chosen, or say what is wrong with it."""
        try:
            study = Study.read(self.folder / self.experiment.value)
        except ValueError as error:
            self.show_nothing(error)
            return
        self.study = None
        self.culture.options = study.cultures
        self.culture.value = study.cultures[0]
        self.study = study
        self.refresh()

    def show_nothing(self, error: ValueError) -> None:
        """Show why there is no answer, and no picture that could be taken for one."""
        self.study = None
        self.chart.feed(data=recovery_rows(nothing_yet()), signals={}, description=NOT_READ)
        self.note.tell()
        self.answer.refuse(error)

    def refresh(self, _change: Any = None) -> None:
        """Show picture, sentence and numbers for the jar the controls describe, or why there are none."""
        if self.study is None:
            return
        try:
            asked = self.asked()
            picture = asked.picture(self.study)
            said = sentence(picture, guess=asked.is_guess(self.study))
            self.chart.feed(data=recovery_rows(picture), signals={}, description=said)
            self.note.tell(numbers(picture), *remarks(asked, self.study))
            self.answer.say(said)
        except ValueError as error:
            self.answer.refuse(error)


def remarks(asked: Asked, study: Study) -> list[str]:
    """Return what a reader should know of these numbers, one sentence each."""
    blind = [word for column, word in WORDS.items() if column not in study.seen_by_counts]
    said = [
        f"{study.title}: {len(study.jars)} jars, {study.fit.recoveries} of them recovered"
        f"{'; invented data' if study.invented else ''}. Intervals are 90 %.",
        "The ledger: this culture's own pace, what the cold took by the prior for brewing yeast, the published yeast curve (creep), "
        f"feeds diluted {study.usual_dilution:.1f} times as on record, by the clock.",
        *study.fit.beyond_record(asked.row()),
        *study.fit.notes,
    ]
    if blind:
        said.append(f"The counts do not depend on: {', '.join(blind)}; the record does not let them be told.")
    return said


def numbers(picture: Recovery) -> pd.DataFrame:
    """Return the picture's numbers as a table, in jars of ten."""
    counts = picture.counts
    ledger = picture.ledger.set_index("feed")["chance"].reindex(counts["feed"]).to_numpy()
    return pd.DataFrame(
        {
            "by feed": counts["feed"],
            "counts, of 10": [f"{10 * v:.1f}" for v in counts["chance"]],
            "from": [f"{10 * v:.1f}" for v in counts["low"]],
            "to": [f"{10 * v:.1f}" for v in counts["high"]],
            "ledger, of 10": [f"{10 * v:.1f}" for v in ledger],
            "": ["beyond the record" if beyond else "" for beyond in counts["extrapolated"]],
        }
    )
