"""Another rule of recovery tried on the same readings: which jars move, and what that does to the answer."""

from __future__ import annotations

from typing import Any

import ipywidgets
import pandas as pd

from fallow.panels.controls.answer import Note
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import NumberField
from fallow.panels.controls.fold import Fold
from fallow.panels.controls.markup import Part
from fallow.panels.controls.page import side_by_side
from fallow.panels.feeds_to_recovery.sections import rule_said
from fallow.panels.feeds_to_recovery.study import Study
from fallow.records.package import RecoveryRule
from fallow.records.said_number import counted
from fallow.stats.outcomes import what_moved

ONE, TWO, THREE = RUNS = ("one feed", "two in a row", "three in a row")
BEFORE_DATA = "The rule is written before the data. Trying another shows what hangs on it; choosing the one that suits is no evidence."


def moved_parts(study: Study, rule: RecoveryRule) -> list[Part]:
    """Derive every outcome again by another rule and show which jars moved."""
    if study.experiment is None:
        raise ValueError(study.no_counts)
    if rule == study.rule:
        return [f"The experiment's own rule: {rule_said(study)}.", BEFORE_DATA]
    if not len(study.jars):
        raise ValueError(study.no_counts)
    other = Study.of(study.experiment, rule=rule)
    moved = what_moved(study.jars, other.jars)
    shown = pd.DataFrame({"jar": moved["jar"]})
    for when, of in (("before", study), ("after", other)):
        seen = of.jars.set_index("jar")["feeds_observed"].reindex(moved["jar"])
        said = zip(moved[when], seen, strict=True)
        shown[f"{when}, at feed"] = [moved_to(at, last) for at, last in said]
    before, after = (f"{by_two(of)} by feed 2 and {of.jars['recovered'].sum()} in all" for of in (study, other))
    return [
        f"By the other rule a jar is {rule_said(other)}.",
        f"{len(moved)} of {counted(len(study.jars), 'jar')} {'moves' if len(moved) == 1 else 'move'}: by the "
        f"experiment's rule {before} recovered, by this one {after}.",
        shown,
        BEFORE_DATA,
    ]


def moved_to(at: float, last: float) -> str:
    """Say at which feed a jar was back, or the last at which it surely was not.

    >>> moved_to(2, 2), moved_to(float("nan"), 3), moved_to(float("nan"), 0)
    ('2', 'not yet at 3', 'undecided from 1')
    """
    if pd.notna(at):
        return f"{at:.0f}"
    return f"not yet at {last:.0f}" if last else "undecided from 1"


def by_two(study: Study) -> int:
    """Count the jars back by feed 2."""
    return int((study.jars["feeds_to_recovery"] <= 2).sum()) if len(study.jars) else 0


class AnotherRule(ipywidgets.VBox):
    """Three controls and what they move, folded away until somebody asks."""

    def __init__(self, title: str) -> None:
        self.study = Study.nothing()
        self.debt = NumberField(label="Debt at most", unit="doublings", low=0, high=5)
        self.rise = NumberField(label="Rise at least", unit="% of its own", low=0, high=150)
        self.run = Choice(label="In", options=list(RUNS))
        self.note = Note()
        self.fold = Fold(title=title, content=lambda: moved_parts(self.study, self.rule()))
        self.inside = side_by_side([self.debt, self.rise, self.run])
        self.inside.layout.display = "none"
        for control in (self.debt, self.rise, self.run):
            control.observe(self.refresh, "value")
        self.fold.observe(self.turn, "unfolded")
        super().__init__([self.fold, self.inside])

    def turn(self, _change: Any = None) -> None:
        """Show the controls with what they move."""
        self.inside.layout.display = "grid" if self.fold.unfolded else "none"

    def ask(self, study: Study) -> None:
        """Start again from an experiment's own rule."""
        self.study = Study.nothing()
        self.debt.text = f"{study.rule.owed_at_most_doublings:g}"
        self.rise.text = f"{100 * study.rule.rise_at_least_fraction:g}"
        self.run.value = RUNS[study.rule.feeds_in_a_row - 1]
        self.study = study
        self.fold.renew()

    def rule(self) -> RecoveryRule:
        """Return the rule the controls describe; an empty field is the experiment's own."""
        own = self.study.rule
        debt, rise = self.debt.value, self.rise.value
        return RecoveryRule(
            owed_at_most_doublings=own.owed_at_most_doublings if debt is None else debt,
            rise_at_least_fraction=own.rise_at_least_fraction if rise is None else round(rise / 100, 6),
            feeds_in_a_row=RUNS.index(self.run.value) + 1,
        )

    def refresh(self, _change: Any = None) -> None:
        """Work it out anew when it is to be seen."""
        self.fold.renew()
