"""Write what README.md shows but does not say by hand: its picture and its table of checked models.

    .venv/bin/python tests/readme.py

A test fails while either is stale, so run this after a change to charts, statistics or published numbers.
"""

from __future__ import annotations

import re
from pathlib import Path

from fallow.charts.picture import picture
from fallow.charts.recovery import Recovery, jar_marks, recovery_chart
from fallow.records.experiment import Experiment
from fallow.records.reference import reference_markdown, reference_table
from fallow.stats.carried import by_rye
from fallow.stats.cold import fit_cold
from fallow.stats.ledger_record import ledger_of_record
from fallow.stats.outcomes import outcomes
from fallow.stats.recovery import fit_recovery, risk_table

ROOT = Path(__file__).resolve().parent.parent
README, PICTURE = ROOT / "README.md", ROOT / "workbook" / "picture.svg"
MARKS = re.compile(r"(<!-- models -->\n).*?(<!-- /models -->)", re.DOTALL)
FEEDS = 6


def picture_svg() -> str:
    """Draw all jars of the invented trial: the counts without covariates, and the ledger on each jar's own schedule.

    The ledger carries over a ripe feed what these jars carried.
    """
    experiment = Experiment.open(ROOT / "experiments" / "harbour-rota")
    cold = fit_cold(experiment)
    jars = outcomes(experiment, fit=cold)
    counts = fit_recovery(risk_table(jars), "C(feed)").ready_by(jars.iloc[[0]], feeds=FEEDS)
    ledger = ledger_of_record(experiment, fit=cold, feeds=FEEDS, carried=by_rye(cold))
    shown = Recovery(counts=counts, ledger=ledger, jars=jar_marks(jars), invented=experiment.invented)
    described = "share of jars ready by feed 1 to 6, by counts and by the ledger; invented data"
    return picture(recovery_chart(shown), title="Feeds to recovery, harbour rota", description=described).svg


def readme_text() -> str:
    """Return README.md with a fresh table of models."""
    table = reference_markdown(reference_table(ROOT / "tests" / "reference"))
    text, found = MARKS.subn(lambda marks: marks[1] + table + marks[2], README.read_text(encoding="utf-8"))
    if found != 1:
        message = (
            f"README.md has {found} places for the models; it needs one, between <!-- models --> marks. Put it back."
        )
        raise ValueError(message)
    return text


if __name__ == "__main__":
    README.write_text(readme_text(), encoding="utf-8")
    PICTURE.write_text(picture_svg(), encoding="utf-8")
