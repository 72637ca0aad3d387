"""The page as one file: HTML that needs no network and prints on A4, with the same words and its pictures as SVG."""

from __future__ import annotations

import html
import platform
from collections.abc import Callable
from importlib.metadata import version

import fallow
from fallow.charts.picture import drawn, named
from fallow.charts.recovery import Recovery, recovery_chart
from fallow.panels.controls.markup import Figure, Part, markup
from fallow.panels.feeds_to_recovery import sections
from fallow.panels.feeds_to_recovery.asked import Asked, of_record
from fallow.panels.feeds_to_recovery.cold_section import cold_parts
from fallow.panels.feeds_to_recovery.coverage import coverage_parts
from fallow.panels.feeds_to_recovery.reviewed import jar_said, review_parts
from fallow.panels.feeds_to_recovery.study import Study
from fallow.panels.feeds_to_recovery.words import (
    about,
    numbers,
    remarks,
    remarks_on_record,
    sentence,
    sentence_of_record,
)
from fallow.records.experiment import Experiment

TITLES = {
    "agreement": "Do ledger and counts agree?",
    "forecast": "What the record adds: before any jar, counts alone, both",
    "cold": "What the cold took",
    "outcomes": "Why each jar got its outcome",
    "rule": "Another rule of recovery",
    "review": "What a reviewer asks",
    "coverage": "How often such intervals hold the truth",
}
# Nothing may be fetched: a browser that reads this line asks no other machine, whatever a text in the record may say.
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
STYLE = """
@page { size: A4; margin: 16mm 14mm; }
body { font: 11pt/1.45 Helvetica, Arial, sans-serif; color: #22303c; background: #fff; max-width: 182mm; margin: 0 auto;
  padding: 8mm 4mm; }
h1 { font-size: 20pt; margin: 0 0 4pt; } h2 { font-size: 14pt; margin: 18pt 0 4pt; } h4 { font-size: 11pt; margin: 10pt 0 2pt; }
h1, h2, h4 { break-after: avoid; }
p { margin: 4pt 0; max-width: 46em; overflow-wrap: anywhere; }
.answer { font-size: 13pt; font-weight: 600; }
figure { margin: 8pt 0; break-inside: avoid; } figure svg { width: 100%; height: auto; } figcaption { font-weight: 600; }
table { border-collapse: collapse; margin: 4pt 0 8pt; font-size: 9pt; font-variant-numeric: tabular-nums; }
th, td { text-align: left; vertical-align: top; padding: 2pt 10pt 2pt 0; border-bottom: 0.5pt solid #c3ccd3; }
td:last-child { overflow-wrap: anywhere; } th { overflow-wrap: normal; }
thead { display: table-header-group; } tr { break-inside: avoid; }
footer { margin-top: 18pt; font-size: 9pt; color: #4b5a67; }
@media print { body { padding: 0; max-width: none; font-size: 10pt; } }
"""


def report(experiment: Experiment) -> str:
    """Return what the page says of an experiment as one self-contained HTML file.

    The forecast in it is for the middling jar of the record; on the page the Save button takes the jar of the sliders. The same
    record makes the same text, byte for byte, with the same versions. In a notebook: ``Path("report.html").write_text(report(x))``.

    Raises
    ------
    ValueError
        The first thing that is wrong with the experiment.
    """
    study = Study.of(experiment)
    return study_report(study, Asked.middling(study))


def study_report(study: Study, asked: Asked) -> str:
    """Return the report of a study, with the forecast for one jar."""
    body = "".join(
        [
            f"<h1>Feeds to recovery: {html.escape(study.title)}</h1>",
            markup([about(study), *_asked_and_when(study)]),
            _section("All recorded jars, each on its own schedule", lambda: _record(study)),
            _section("A jar to ask about", lambda: _one_jar(study, asked)),
            *(_section(title, made) for title, made in _sections(study, asked).items()),
            f"<footer>{markup([made_with()])}</footer>",
        ]
    )
    head = (
        f'<meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Feeds to recovery: {html.escape(study.title)}</title><style>{STYLE}</style>"
    )
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}</head><body>{body}</body></html>\n'


def made_with() -> str:
    """Name the versions the numbers depend on."""
    packages = ", ".join(f"{name} {version(name)}" for name in ("numpy", "pandas", "scipy", "altair"))
    return f"Made by Fallow {fallow.__version__} with Python {platform.python_version()}, {packages}."


def _sections(study: Study, asked: Asked) -> dict[str, Callable[[], list[Part]]]:
    made: dict[str, Callable[[], list[Part]]] = {
        "agreement": lambda: sections.agreement_parts(study),
        "forecast": lambda: sections.forecast_parts(study, asked),
        "cold": lambda: cold_parts(study),
        "outcomes": lambda: sections.outcome_parts(study),
        "review": lambda: review_parts(study),
        "coverage": coverage_parts,
    }
    return {TITLES[name]: parts for name, parts in made.items()}


def _section(title: str, made: Callable[[], list[Part]]) -> str:
    """Return one section; where it cannot be told, the reason stands in its place."""
    try:
        inside = markup(made())
    except ValueError as error:
        said = str(error)
        inside = markup([f"{said[:1].upper()}{said[1:]}"])
    return f"<section><h2>{html.escape(title)}</h2>{inside}</section>"


def _asked_and_when(study: Study) -> list[Part]:
    if study.experiment is None:
        return []
    looks = study.experiment.readings["at_text"].dropna().sort_values()
    when = f"Data from {looks.iloc[0][:10]} to {looks.iloc[-1][:10]}" if len(looks) else "No reading yet"
    asked = f"The question: {study.experiment.question}"
    return [asked, f"{when}; record made with Fallow {study.experiment.package.library_version}."]


def _record(study: Study) -> list[Part]:
    picture = of_record(study)
    return [_figure(picture, sentence_of_record(study, picture)), numbers(picture), remarks_on_record(study)[0]]


def _one_jar(study: Study, asked: Asked) -> list[Part]:
    picture = asked.picture(study)
    said = sentence(picture, guess=next((short for short, _ in asked.guesses(study)), ""))
    return [f"A jar {jar_said(asked)}.", _figure(picture, said), numbers(picture), *remarks(asked, study, picture)]


def _figure(picture: Recovery, caption: str) -> Figure:
    svg = named(drawn(recovery_chart(picture)), title="Feeds to recovery", description=caption)
    return Figure(svg=svg, caption=caption)
