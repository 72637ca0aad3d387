"""What a reviewer asks: the coefficients and their errors, one jar, one culture, one link left out or changed."""

from __future__ import annotations

import numpy as np
import pandas as pd

from fallow.panels.controls.markup import Head, Part
from fallow.panels.feeds_to_recovery.asked import Asked
from fallow.panels.feeds_to_recovery.study import Study, at_risk
from fallow.panels.feeds_to_recovery.terms import COLUMNS, in_unit, in_words, minus
from fallow.records.said_number import counted
from fallow.stats.held_out import leave_one_culture_out
from fallow.stats.recovery_fit import RecoveryFit
from fallow.stats.review import compare_links, leave_one_jar_out, proportional_hazards, without_bias

SHOWN_JARS = 5
SHOWN_FEEDS = 4
WITHOUT_LEVELS = (
    "All that follows is of the same fit without a level for each culture, so its coefficients are other ones."
)
BESIDE = {
    "C(feed)": "A feed is set beside feed 1.",
    "C(culture)": "A culture is set beside the one that is not listed.",
}


def review_parts(study: Study) -> list[Part]:
    """Return the reviewer's tables, each with its sentence; the forecasts in them are for the record's middling jar."""
    if study.fit is None:
        raise ValueError(study.no_counts)
    middling = Asked.middling(study)
    row = middling.row()
    return [
        Head("The fit"),
        fitted_by(study.fit),
        coefficients(study),
        beside(study.fit.coefficients.index),
        errors_said(study),
        f"Forecasts below are for the middling jar of the record: {jar_said(middling)}.",
        WITHOUT_LEVELS if study.by_cultures else "",
        *_bias(study.fit, row),
        *_by_feed(study.fit),
        *_one_jar(study.fit, row),
        *_links(study.fit, row),
        *_cultures(study),
    ]


def fitted_by(fit: RecoveryFit) -> str:
    """Say what was fitted to how much, and how."""
    how = "with the Jeffreys penalty" if fit.jeffreys else "by plain maximum likelihood"
    terms = [in_words(term).lower() for term in str(fit.formula).split(" + ")]
    return (
        f"Complementary log-log hazard of {', '.join(terms)}; {counted(fit.jars, 'jar')}, {fit.recoveries} recovered, {how}. "
        "Above zero: likelier to recover at a feed."
    )


def coefficients(study: Study) -> pd.DataFrame:
    """Return the coefficients with their terms in words."""
    table = (study.by_cultures or study.fit).coefficients  # type: ignore[union-attr]
    return pd.DataFrame(
        {
            "term": [in_words(str(term)) for term in table.index],
            "estimate": minus(table["estimate"].map("{:.2f}".format)),
            "standard error": table["se"].map("{:.2f}".format).to_list(),
            "90 % interval": _interval(table),
        }
    )


def beside(terms: pd.Index) -> str:
    """Say what each level among the terms is compared with.

    >>> beside(pd.Index(["Intercept", "C(culture)[T.gull]"]))
    'A culture is set beside the one that is not listed.'
    """
    return " ".join(said for factor, said in BESIDE.items() if any(str(term).startswith(factor) for term in terms))


def errors_said(study: Study) -> str:
    """Name the kind of standard error and of interval."""
    fit = study.by_cultures or study.fit
    spread = (
        f" The cultures' levels spread by {study.by_cultures.spread:.2f} (standard deviation)."
        if study.by_cultures
        else ""
    )
    return f"Standard errors: {fit.standard_errors}. Intervals: profile likelihood, not the standard error.{spread}"  # type: ignore[union-attr]


def jar_said(jar: Asked) -> str:
    """Describe a jar in words and units.

    >>> jar_said(Asked(days_held=21, hold_temp_c=4, rye_fraction=0.25, place_temp_c=24, hours_between_feeds=12, culture="gull"))
    'held 21 days at 4 °C, recovering at 24 °C, fed every 12 h with 25 % rye, culture gull'
    """
    shown = {column: in_unit(column, getattr(jar, column)) for column in COLUMNS}
    return (
        f"held {shown['days_held']} at {shown['hold_temp_c']}, recovering at {shown['place_temp_c']}, fed every "
        f"{shown['hours_between_feeds']} with {shown['rye_fraction']} rye{f', culture {jar.culture}' if jar.culture else ''}"
    )


def _bias(fit: RecoveryFit, row: pd.DataFrame) -> list[Part]:
    found = without_bias(fit, row)
    terms = [in_words(str(term)) for term in found.table.index]
    told = [f"{term}, as ln(−ln(1 − chance))" if term.startswith("Ready by") else term for term in terms]
    shown = pd.DataFrame({"term": told})
    shown["fitted"] = minus(found.table["fitted"].map("{:.2f}".format))
    shown["without its bias"] = minus(found.table["reduced"].map("{:.2f}".format))
    shown["moved, standard errors"] = minus(found.table["moved"].map("{:+.2f}".format))
    sentence = _each_in_words(found.sentence, found.table.index).replace("%", " %")
    return [Head("Do the estimates lean to one side?"), shown, sentence]


def _by_feed(fit: RecoveryFit) -> list[Part]:
    found = proportional_hazards(fit)
    table = found.table
    shown = pd.DataFrame(
        {"covariate": [in_words(str(t)) for t in table.index], "change with the feed": _interval(table, "change")}
    )
    sentence = found.sentence if found.sentence.endswith(".") else f"{found.sentence}."
    return [
        Head("Does an effect change from feed to feed?"),
        shown,
        beside(table.index),
        _each_in_words(sentence, table.index),
    ]


def _each_in_words(sentence: str, terms: pd.Index) -> str:
    for term in sorted(map(str, terms), key=len, reverse=True):
        said = in_words(term)
        sentence = sentence.replace(term, f"{said[:1].lower()}{said[1:]}")
    return sentence


def _one_jar(fit: RecoveryFit, row: pd.DataFrame) -> list[Part]:
    found = leave_one_jar_out(fit, row)
    first = found.table.dropna().head(SHOWN_JARS)
    shown = pd.DataFrame(
        {
            "jar left out": [str(jar) for jar in first.index],
            "ready by feed 2 without it, of 10": (10 * first["chance"]).map("{:.2f}".format).to_list(),
            "change": minus((10 * first["change"]).map("{:+.2f}".format)),
        }
    )
    return [Head("Does one jar decide it?"), shown, found.sentence.replace("%", " %")]


def _links(fit: RecoveryFit, row: pd.DataFrame) -> list[Part]:
    found = compare_links(fit, row, feeds=SHOWN_FEEDS)
    table = found.table
    names = {"cloglog": "complementary log-log", "logit": "logit"}
    shown = pd.DataFrame({"link": [names.get(str(link), str(link)) for link in table.index]})
    shown["log-likelihood"] = minus(table["loglike"].map("{:.1f}".format))
    shown["AIC"] = table["aic"].map("{:.1f}".format).to_list()
    for feed in range(1, SHOWN_FEEDS + 1):
        shown[f"by feed {feed}, of 10"] = (10 * table[f"ready_by_{feed}"]).map("{:.1f}".format).to_list()
    return [Head("Does the link matter?"), shown, found.sentence.replace("%", " %")]


def _cultures(study: Study) -> list[Part]:
    head = Head("Does it forecast a culture it has not seen?")
    fitted = at_risk(study.jars).dropna(subset=sorted(study.seen_by_counts))
    found = leave_one_culture_out(fitted, str(study.fit.formula))  # type: ignore[union-attr]
    if not len(found.table):
        return [head, found.sentence]
    shown = pd.DataFrame(
        {"culture left out": [str(name) for name in found.table.index], "jars": found.table["jars"].to_list()}
    )
    for column in found.table.drop(columns="jars"):
        name = "this fit" if column == "hazard" else str(column)
        shown[f"{name}, feeds off"] = found.table[column].map("{:.2f}".format).to_list()
    return [head, shown, found.sentence]


def _interval(table: pd.DataFrame, middle: str = "") -> list[str]:
    ends = np.column_stack([table["low"], table["high"]])
    between = [f"{low:.2f} to {high:.2f}" for low, high in ends]
    return minus([f"{m:+.2f} ({b})" for m, b in zip(table[middle], between, strict=True)] if middle else between)
