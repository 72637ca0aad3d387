"""What the cold took, one click below the answer: each culture's clock, the debt against the hold, and how it falls."""

from __future__ import annotations

import pandas as pd

from fallow.maths.cold import CREEP, STOP
from fallow.panels.controls.markup import Head, Part
from fallow.panels.feeds_to_recovery.study import Study
from fallow.panels.feeds_to_recovery.terms import in_words, minus
from fallow.stats.cold import ColdFit
from fallow.stats.cold_trend import cold_trend
from fallow.stats.owed_by_feed import owed_by_feed

COUNTS_HERE = (
    "A jar counts here when its last feed before the cold (feed 0), its days and its fridge's temperature are on record, and "
    "its culture has its own clock."
)
WHICH_STORY = (
    f"{CREEP.word.capitalize()} and {STOP} differ in what a jar chilled young still grew in the cold: what it lacked is counted "
    "apart from what the cold took, and nobody knows which story holds."
)


def cold_parts(study: Study) -> list[Part]:
    """Say what the cold took: each culture's clock, the debt against the hold, and the share a ripe feed leaves."""
    if study.cold is None or study.experiment is None:
        raise ValueError(study.no_counts)
    cold = study.cold
    clocks = cold.cultures
    shown = pd.DataFrame(
        {
            "culture": clocks["culture"],
            "baseline feeds": clocks["baseline_feeds"],
            "pace (1: as published)": _ends(clocks, "pace", "pace_low", "pace_high"),
            "ripening constant c, doublings": _ends(clocks, "ripening_doublings", "ripening_low", "ripening_high"),
        }
    )
    few = cold.only_differences
    said = f"Too few baseline feeds for {', '.join(few)}: only differences between its jars are told." if few else ""
    return [
        Head("Each culture's own clock"),
        shown,
        said,
        *_pulls(cold.pulls),
        *_trend(study),
        *_falls(cold),
        *_shares(study),
    ]


def _pulls(pulls: pd.DataFrame) -> list[Part]:
    if not len(pulls):
        return []
    rows = [(name, _most(mine, "holds_pace"), _most(mine, "holds_ripening")) for name, mine in pulls.groupby("culture")]
    shown = pd.DataFrame(rows, columns=["culture", "feeds that tell the pace", "feeds that tell c"])
    return ["Which baseline feeds tell the pace and which the constant (their share of the weight):", shown]


def _most(mine: pd.DataFrame, column: str) -> str:
    """Name the feeds that hold the most of it, until two thirds are told."""
    ordered = mine.dropna(subset=[column]).sort_values(column, ascending=False)
    enough = ordered[(ordered[column].cumsum() - ordered[column]) < 2 / 3]
    return ", ".join(
        f"{feed} ({100 * share:.0f} %)" for feed, share in zip(enough["feed"], enough[column], strict=True)
    )


def _trend(study: Study) -> list[Part]:
    head = Head("The debt on return, against the hold")
    try:
        trend, stopped = (cold_trend(study.experiment, fit=study.cold, cold=cold) for cold in (CREEP, STOP))  # type: ignore[arg-type]
    except ValueError as error:
        return [head, COUNTS_HERE, in_words(str(error))]
    terms = trend.terms.merge(stopped.terms, on="term", how="outer", sort=False, suffixes=("", "_stop"))
    by_stop = _ends(terms, "estimate_stop", "low_stop", "high_stop", digits=3)
    shown = pd.DataFrame(
        {
            "the debt grows": terms["term"],
            f"doublings, by {CREEP}": _ends(terms, digits=3),
            f"by {STOP}": by_stop,
            "the ledger's prior": terms["law"].fillna(terms["law_stop"]).map("{:.3f}".format),
        }
    ).replace("nan (nan to nan)", "not told")
    return [head, COUNTS_HERE, shown, in_words(f"By {CREEP}: {trend.says[0].lower()}{trend.says[1:]}"), WHICH_STORY]


def _falls(cold: ColdFit) -> list[Part]:
    by_feed = owed_by_feed(cold)
    if by_feed.empty:
        return []
    shown = pd.DataFrame(
        {
            "feed": by_feed["feed"],
            "jars": by_feed["jars"],
            "of these not seen past their peak": by_feed["not_seen"],
            "mean debt, doublings": _ends(by_feed, "owed_doublings", "owed_low", "owed_high"),
            "jars with a next feed": by_feed["pairs"],
            "in these the next feed took": _ends(by_feed, "fell_doublings", "fell_low", "fell_high"),
        }
    ).replace("nan (nan to nan)", "not told")
    slower = "Jars back in form may be fed no further, so later feeds show the slower jars: read what a feed took, not two means."
    return [Head("How the debt falls from feed to feed"), shown, slower]


def _shares(study: Study) -> list[Part]:
    rows = []
    for rye, flour in ((False, "without rye"), (True, "with a tenth of rye or more")):
        if not study.carried_by(rye=rye):
            low, middle, high = study.carried(rye=rye).interval
            rows.append(
                (flour, study.carried(rye=rye).jars, f"{100 * middle:.0f} % ({100 * low:.0f} to {100 * high:.0f} %)")
            )
    if not rows:
        return ["No jar whose debt can be told has two feeds in a row, so nothing tells what a ripe feed leaves of it."]
    table = pd.DataFrame(rows, columns=["recovery feeds", "jars", "left of the debt"])
    return [Head("What a ripe feed leaves of the debt"), table]


def _ends(
    table: pd.DataFrame, middle: str = "estimate", low: str = "low", high: str = "high", *, digits: int = 2
) -> list[str]:
    rows = zip(table[middle], table[low], table[high], strict=True)
    return minus(f"{m:.{digits}f} ({a:.{digits}f} to {b:.{digits}f})" for m, a, b in rows)
