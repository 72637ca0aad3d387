"""What stands one click below the answer: each function returns a section's paragraphs and tables."""

from __future__ import annotations

import numpy as np
import pandas as pd

from fallow.maths.cold import CREEP, STOP
from fallow.panels.controls.markup import Head, Part
from fallow.panels.feeds_to_recovery.asked import Asked
from fallow.panels.feeds_to_recovery.study import FEEDS, Study
from fallow.panels.feeds_to_recovery.terms import in_words, listed, minus
from fallow.panels.feeds_to_recovery.words import between
from fallow.records.said_number import amount, counted
from fallow.stats.agreement import ENOUGH_JARS, Agreement
from fallow.stats.learning import forecast
from fallow.stats.outcomes import left_out

# Our choice: a gap of less than two jars in a hundred is not worth a sentence.
APART = 0.02
NO_OUTCOME = "no jar has an outcome yet: this is the ledger's prior, a guess"
UNDECIDED = (
    "Fixed debt means that feeds pay back what the cold took, memoryless that every feed has the same chance. "
    "Undecided is the usual answer: telling them apart takes many jars on unlike schedules."
)


def agreement_parts(study: Study) -> list[Part]:
    """Hold the ledger's forecast of every recorded jar, on its own schedule, against what the jars did by feed 2."""
    found = study.agreement()
    table = found.by_forecast
    if table.empty:
        return [found.says]
    alone, stopped = (
        other.by_forecast["expected"].sum() for other in (study.agreement(carried=False), study.agreement(cold=STOP))
    )
    shown = pd.DataFrame(
        {
            "the ledger said": [
                f"{10 * a:g} to {10 * b:g} of 10"
                for a, b in zip(table["forecast_from"], table["forecast_to"], strict=True)
            ],
            "jars": table["jars"],
            "expected ready by feed 2": table["expected"].map("{:.1f}".format),
            "observed": table["observed"],
            "gap, jars of 10": _signed(table["gap"], table["low"], table["high"]),
        }
    )
    return [
        f"Each jar goes by its own last feed, hold, places and feeds, by {CREEP}. No verdict is given below {ENOUGH_JARS} jars.",
        shown,
        *minus([found.says]),
        _also_beyond(found),
        f"In all the ledger by {CREEP} expects {table['expected'].sum():.1f} of {counted(int(table['jars'].sum()), 'jar')} ready by "
        f"feed 2, with the share that ripe feeds leave as these jars showed it; {_were(int(table['observed'].sum()))}.",
        f"Were nothing left, it would expect {alone:.1f}; did nothing grow in the cold, by {STOP}, {stopped:.1f}. The intervals are "
        "of what the jars did; the ledger's own doubt is not in them.",
        found.says_kind,
        UNDECIDED,
    ]


def _were(count: int) -> str:
    return f"{count or 'none'} {'was' if count == 1 else 'were'}"


def _also_beyond(found: Agreement) -> str:
    """Name the groups whose gap is beyond what chance allows where the largest gap, of fewer jars, is not."""
    if found.worst_gap is None or not found.worst_gap[1] <= 0 <= found.worst_gap[2]:
        return ""
    table = found.by_forecast[(found.by_forecast["low"] > 0) | (found.by_forecast["high"] < 0)]
    groups = [
        f"{10 * a:g} to {10 * b:g} of 10" for a, b in zip(table["forecast_from"], table["forecast_to"], strict=True)
    ]
    return f"Beyond what chance allows is the gap where the ledger said {listed(groups)}." if groups else ""


def forecast_parts(study: Study, asked: Asked) -> list[Part]:
    """Show the forecast for the asked jar three ways: the prior, the counts alone, and the ledger after all jars."""
    learned = study.learned_for(asked.culture)
    table = forecast(
        asked.schedule(study),
        learned=learned,
        counts=asked.counts(study),
        rye_fraction=asked.rye_fraction,
        feeds=FEEDS,
    )
    shown = pd.DataFrame({"by feed": table["feed"]})
    names = {"prior": "before any jar", "data": "the counts alone", "both": "ledger and jars together"}
    for name, head in names.items():
        shown[f"{head}, of 10"] = between(table[name], table[f"{name}_low"], table[f"{name}_high"])
    guess = str(table["guess"].iloc[0]) if len(study.jars) or not study.experiment else NO_OUTCOME
    return [
        "Before any jar the ledger rests on its defaults alone. Each recorded jar moves it by what that jar did on its own "
        f"schedule; {counted(learned.jars, 'jar')} moved it so far. For the jar asked about, chilled ripe, by creep:",
        shown,
        f"{guess[:1].upper()}{guess[1:]}."
        if guess
        else "The record is near this jar: at most half as long again as its longest hold, within a degree of its temperatures.",
        _apart(table),
    ]


def _apart(table: pd.DataFrame) -> str:
    """Say at which feeds ledger and jars together leave the interval of the counts; empty where they never do."""
    away = (table["both_low"] > table["data_high"] + APART) | (table["both_high"] < table["data_low"] - APART)
    if not away.any():
        return ""
    feeds = listed([f"{feed}" for feed in table.loc[away, "feed"]]).replace(" or ", " and ")
    many = "s" if away.sum() > 1 else ""
    return (
        f"At feed{many} {feeds} ledger and jars together leave the counts' interval: the law does not fit these jars there. "
        "Trust the counts."
    )


def outcome_parts(study: Study) -> list[Part]:
    """Say of every jar at which feed it was back, and why; and which jars have no outcome."""
    if study.experiment is None or study.cold is None:
        raise ValueError(study.no_counts)
    jars, out = study.jars, left_out(study.experiment, fit=study.cold)
    parts: list[Part] = [f"The rule: a jar is {rule_said(study)}."]
    if len(jars):
        undecided = int(jars["undecided"].sum())
        parts.append(
            f"{int(jars['recovered'].sum())} of {counted(len(jars), 'jar')} recovered; of {undecided or 'none'} the deciding feed is "
            "undecided (a chance between 20 and 80 % that the debt is within the limit, or too little on record to tell). W is the "
            "debt a feed showed, in doublings and hours."
        )
        parts.append(_jar_table(jars))
    if len(out):
        parts += [Head("Jars without an outcome"), out.assign(why=out["why"].map(in_words))]
    if study.cold.only_differences:
        mine = study.cold.feeds[study.cold.feeds["culture"].isin(study.cold.only_differences)]
        above = (
            mine[["jar", "feed"]]
            .assign(above=minus(mine["owed_difference"].map("{:+.1f}".format)))
            .replace("+nan", "not seen")
        )
        parts += [
            Head("Differences only"),
            above.rename(columns={"above": "debt above where its jars ended, doublings"}),
        ]
    return parts


def _jar_table(jars: pd.DataFrame) -> pd.DataFrame:
    chance = jars["chance_owed_at_most"]
    return pd.DataFrame(
        {
            "jar": jars["jar"],
            "culture": jars["culture"],
            "days held": ["" if pd.isna(d) else f"{d:.0f}" for d in jars["days_held"]],
            "fridge, °C": ["" if pd.isna(c) else f"{c:g}" for c in jars["hold_temp_c"]],
            "chance within the limit": ["" if pd.isna(c) else f"{100 * c:.0f} %" for c in chance],
            "why": minus(text.replace("%", " %") for text in jars["why"]),
        }
    )


def rule_said(study: Study) -> str:
    """Return a study's rule of recovery in words."""
    rule = study.rule
    runs = "one feed" if rule.feeds_in_a_row == 1 else f"{rule.feeds_in_a_row} feeds in a row"
    return (
        f"back when a feed shows a debt of at most {amount(rule.owed_at_most_doublings, 'doubling')} and a rise of at least "
        f"{rule.rise_at_least_fraction:.0%} of the culture's own, in {runs}"
    ).replace("%", " %")


def _signed(middle: pd.Series, low: pd.Series, high: pd.Series) -> list[str]:
    rows = np.column_stack([middle, low, high]) * 10
    return minus(f"{m:+.1f} ({a:+.1f} to {b:+.1f})" for m, a, b in rows)
