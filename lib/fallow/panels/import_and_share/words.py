"""What the page says of a log before it is added: a few of its rows, what is left out and why, its gaps."""

from __future__ import annotations

import pandas as pd

from fallow.records.experiment import Experiment
from fallow.records.log_preview import LogPreview
from fallow.records.problems import cut

FIRST, LAST, MOST_LINES, MOST_PLACES = 4, 2, 6, 12
NO_SUMMER_TIME = (
    "A time zone is a name such as Europe/Berlin; a clock that keeps no summer time has one offset all year: Etc/GMT-1 is an "
    "hour ahead of UTC."
)
NO_FILE = "Type the path of a file, or choose one. Nothing is saved before you add it."


def some_rows(preview: LogPreview) -> pd.DataFrame:
    """Return the first rows and the last ones as they would be kept."""
    rows = preview.rows
    few = rows if len(rows) <= FIRST + LAST + 1 else pd.concat([rows.head(FIRST), rows.tail(LAST)])
    unit = "pH" if preview.quantity.unit == "pH" else f"{preview.quantity.name}, {preview.quantity.unit}"
    table = pd.DataFrame(
        {
            "row of the file": few["row"].map(str),
            "time": few["at_text"].str.replace("T", " "),
            unit: few["value"].map("{:.10g}".format),
        }
    )
    if "temp_c" in few:
        table["temperature, °C"] = few["temp_c"].map("{:.10g}".format).replace("nan", "")
    if len(few) < len(rows):
        dots = pd.DataFrame([["…"] * table.shape[1]], columns=table.columns)
        table = pd.concat([table.head(FIRST), dots, table.tail(LAST)])
    return table


def left_out(preview: LogPreview) -> list[str | pd.DataFrame]:
    """Return the rows that would not be kept, reason by reason."""
    if not preview.left_out:
        return ["No row is left out."]
    by_reason: dict[str, list[tuple[int, str]]] = {}
    for problem in preview.left_out:
        by_reason.setdefault(problem.rule, []).append((problem.row, problem.value or ""))
    table = pd.DataFrame(
        {
            "left out because": list(by_reason),
            "rows": [str(len(rows)) for rows in by_reason.values()],
            "which": [_which(rows) for rows in by_reason.values()],
        }
    )
    count = len(preview.left_out)
    return [f"{count} row{'s are' if count > 1 else ' is'} left out; the file itself is not changed:", table]


def _which(rows: list[tuple[int, str]]) -> str:
    told = [f"row {row}{f' ({cut(value)})' if value else ''}" for row, value in rows[:MOST_LINES]]
    return ", ".join(told) + (", …" if len(rows) > MOST_LINES else "")


def gaps(preview: LogPreview) -> list[str]:
    """Return the stretches without a reading, the first of them one by one."""
    if preview.rows.empty:
        return []
    every = f" A reading about every {preview.step_minutes:.3g} min." if preview.step_minutes > 0 else ""
    if not preview.gaps:
        return [f"No gap.{every}"]
    more = f" and {len(preview.gaps) - MOST_LINES} more" if len(preview.gaps) > MOST_LINES else ""
    told = "; ".join(_gap(gap.start, gap.end, gap.hours) for gap in preview.gaps[:MOST_LINES])
    return [f"Gaps, nothing is put into them: {told}{more}.{every}"]


def _gap(start: str, end: str, hours: float) -> str:
    return f"{start[:16].replace('T', ' ')} to {end[:16].replace('T', ' ')} ({hours:.1f} h)"


def by_feed(rows: pd.DataFrame, jar: str) -> list[str | pd.DataFrame]:
    """Return which feed of a jar the readings would go to, and how long after it they were taken."""
    early = int(rows["feed"].isna().sum())
    told: list[str | pd.DataFrame] = [
        f"Each reading goes to the feed of {cut(jar)} it follows; look whether the hours can be."
    ]
    groups = rows.dropna(subset=["feed"]).groupby("feed")["hours_after"]
    table = pd.DataFrame(
        [
            {
                "feed": f"{feed:g}",
                "readings": str(len(hours)),
                "hours after it": f"{hours.min():.1f} to {hours.max():.1f}",
            }
            for feed, hours in groups
        ]
    )
    told += [table] if len(table) else []
    return [*told, f"{early} before its first feed will be left out." if early else ""]


def places(experiment: Experiment) -> str:
    """Return the places the record names already, so that a new log goes to the same one and not to its twin."""
    named = [experiment.temperatures["place"], experiment.feeds["place"], experiment.jars["hold_place"]]
    known = list(dict.fromkeys(pd.concat(named).dropna()))
    more = f" and {len(known) - MOST_PLACES} more" if len(known) > MOST_PLACES else ""
    return f"Places on record: {', '.join(map(cut, known[:MOST_PLACES]))}{more}." if known else ""


def whole(preview: LogPreview) -> list[str | pd.DataFrame]:
    """Return all that is said below the answer."""
    rows: list[str | pd.DataFrame] = [some_rows(preview)] if len(preview.rows) else []
    return [" ".join(preview.said), *rows, *left_out(preview), *gaps(preview), NO_SUMMER_TIME]
