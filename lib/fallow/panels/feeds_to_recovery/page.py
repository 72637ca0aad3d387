"""Choose an experiment, describe a jar, see by which feed such jars are ready; and one click below, why to believe it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets

from fallow.charts.recovery import Recovery, recovery_chart, recovery_rows
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.download import Download
from fallow.panels.controls.fold import Fold
from fallow.panels.controls.live import LiveChart
from fallow.panels.controls.markup import Part
from fallow.panels.controls.page import side_by_side
from fallow.panels.controls.slide import Slide
from fallow.panels.feeds_to_recovery import sections
from fallow.panels.feeds_to_recovery.asked import Asked, nothing_yet, of_record
from fallow.panels.feeds_to_recovery.cold_section import cold_parts
from fallow.panels.feeds_to_recovery.coverage import coverage_parts
from fallow.panels.feeds_to_recovery.report import TITLES, study_report
from fallow.panels.feeds_to_recovery.reviewed import review_parts
from fallow.panels.feeds_to_recovery.rules import AnotherRule
from fallow.panels.feeds_to_recovery.study import NOBODY, Study
from fallow.panels.feeds_to_recovery.words import (
    about,
    numbers,
    remarks,
    remarks_on_record,
    sentence,
    sentence_of_record,
)
from fallow.records.package import experiments_in

ALONE = "none: the ledger alone"
NOT_READ = "no experiment read yet"
ALL_JARS, THIS_JAR = "Show all recorded jars", "Back to the jar of the sliders"


class FeedsToRecovery(ipywidgets.VBox):
    """The page over a folder of experiments."""

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder)
        self.study: Study | None = None
        self.experiment = Choice(label="Experiment", options=[*experiments_in(self.folder), ALONE])
        self.culture = Choice(label="Culture", options=[NOBODY])
        self.days = Slide(label="Days held", unit="days", low=1, high=120, step=1, value=21)
        self.hold = Slide(label="Hold temperature", unit="°C", low=0, high=12, step=0.5, value=4)
        self.rye = Slide(label="Rye in the feeds", unit="%", low=0, high=100, step=1, value=0)
        self.place = Slide(label="Recovery temperature", unit="°C", low=16, high=30, step=0.5, value=24)
        self.between = Slide(label="Hours between feeds", unit="h", low=4, high=48, step=1, value=12)
        self.sliders = [self.days, self.hold, self.rye, self.place, self.between]
        self.answer, self.about, self.note = Answer(), Note(), Note()
        self.chart = LiveChart(chart=recovery_chart(nothing_yet()), description=NOT_READ)
        self.whole_record = False
        self.turn = Button(label=ALL_JARS, act=self.turn_picture)
        self.forecast = Fold(title=TITLES["forecast"], content=self.from_study(sections.forecast_parts, jar=True))
        self.rules = AnotherRule(TITLES["rule"])
        self.folds = [
            Fold(title=TITLES["agreement"], content=self.from_study(sections.agreement_parts)),
            self.forecast,
            Fold(title=TITLES["cold"], content=self.from_study(cold_parts)),
            Fold(title=TITLES["outcomes"], content=self.from_study(sections.outcome_parts)),
            self.rules,
            Fold(title=TITLES["review"], content=self.from_study(review_parts)),
            Fold(title=TITLES["coverage"], content=coverage_parts),
        ]
        self.save = Download(label="Save the report", file_name="report.html", mime="text/html", content=self.report)
        for control in [*self.sliders, self.culture]:
            control.observe(self.moved, "value")
        self.experiment.observe(self.read, "value")
        self.read()
        controls = side_by_side([self.experiment, self.culture, *self.sliders])
        super().__init__([controls, self.answer, self.chart, self.turn, self.about, self.note, *self.folds, self.save])

    def from_study(self, parts: Callable[..., list[Part]], *, jar: bool = False) -> Callable[[], list[Part]]:
        """Return a section's content: what ``parts`` makes of the study on the page (and of the jar the sliders describe)."""

        def content() -> list[Part]:
            if self.study is None:
                message = "There is no experiment to read this from. Mend it, or choose another above."
                raise ValueError(message)
            return parts(self.study, self.asked()) if jar else parts(self.study)

        return content

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
        name = self.experiment.value
        try:
            study = Study.nothing() if name == ALONE else Study.read(self.folder / name)
        except ValueError as error:
            self.show_nothing(error)
            return
        self.study = None
        self.culture.options = study.cultures
        self.culture.value = study.cultures[0]
        self.study = study
        self.save.file_name = "ledger-alone.html" if name == ALONE else f"{name}-feeds-to-recovery.html"
        self.about.tell(about(study))
        self.turn.layout.display = "" if len(study.jars) else "none"
        self.turn_back()
        self.refresh()
        self.renew()

    def renew(self) -> None:
        """Let every section be made anew from the experiment that is now on the page."""
        for fold in self.folds:
            if isinstance(fold, Fold):
                fold.renew()
        self.rules.ask(self.study or Study.nothing())

    def show_nothing(self, error: ValueError) -> None:
        """Show why there is no answer, and no picture that could be taken for one."""
        self.study = None
        self.about.tell()
        self.refuse(error)
        self.renew()

    def refuse(self, error: ValueError) -> None:
        """Say why there is no answer, and take away picture and numbers: they would be of something else."""
        self.chart.feed(data=recovery_rows(nothing_yet()), signals={}, description=str(error))
        self.note.tell()
        self.answer.refuse(error)

    def moved(self, _change: Any = None) -> None:
        """Answer for the jar the sliders now describe."""
        self.turn_back()
        self.refresh()
        if self.study is not None and self.forecast.unfolded:
            self.forecast.renew()

    def turn_back(self) -> None:
        """Let the picture be that of the jar of the sliders."""
        self.whole_record, self.turn.label = False, ALL_JARS

    def turn_picture(self) -> None:
        """Let the picture be that of all recorded jars, or of the jar of the sliders again."""
        self.whole_record = not self.whole_record
        self.turn.label = THIS_JAR if self.whole_record else ALL_JARS
        self.refresh()

    def refresh(self) -> None:
        """Show picture, sentence and numbers, or why there are none."""
        if self.study is None:
            return
        try:
            asked = self.asked()
            picture = of_record(self.study) if self.whole_record else asked.picture(self.study)
            said = self.said(picture, asked, self.study)
            below = remarks_on_record(self.study) if self.whole_record else remarks(asked, self.study, picture)
            self.chart.feed(data=recovery_rows(picture), signals={}, description=said)
            self.note.tell(numbers(picture), *below)
            self.answer.say(said)
        except ValueError as error:
            self.refuse(error)

    def said(self, picture: Recovery, asked: Asked, study: Study) -> str:
        """Return the page's one sentence."""
        if self.whole_record:
            return sentence_of_record(study, picture)
        return sentence(picture, guess=next((short for short, _ in asked.guesses(study)), ""))

    def report(self) -> str:
        """Return the page as one file, for the experiment and the jar that are on it."""
        if self.study is None:
            message = "There is no experiment on the page, so there is nothing to report. Choose one above."
            raise ValueError(message)
        return study_report(self.study, self.asked())
