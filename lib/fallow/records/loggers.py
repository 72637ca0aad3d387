"""Temperature loggers and pH meters: a file is looked at first, everything guessed is shown, then it is added as one change.

preview = look_at_log(bytes_of("fridge.csv"), file="fridge.csv", time_zone="Europe/Oslo")
print(preview.sentence(), preview.questions, preview.left_out, preview.gaps)
add_log(experiment, preview, place="galley fridge")
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from fallow.records.begin import said
from fallow.records.experiment import Experiment
from fallow.records.log_columns import PH, TEMPERATURE
from fallow.records.log_preview import Choices, LogPreview, look
from fallow.records.problems import cut


@dataclass(frozen=True, kw_only=True)
class Added:
    """What an import did: rows written, rows that stood there already, rows that belong to no feed."""

    written: int
    already: int = 0
    before_any_feed: int = 0

    def __str__(self) -> str:
        told = [f"{self.written} readings were added."]
        told += [f"{self.already} stood there already."] if self.already else []
        told += (
            [f"{self.before_any_feed} are older than the jar's first feed and were left out."]
            if self.before_any_feed
            else []
        )
        return " ".join(told)


def look_at_log(data: bytes | str, *, file: str = "the log", **choices: Any) -> LogPreview:
    r"""Read the file of a temperature logger and say what it holds; nothing is saved.

    Parameters
    ----------
    data
        The file's bytes: any delimiter, decimal point or comma, junk above the header, °C or °F.
    file
        Its name, for messages.
    **choices
        As in ``Choices``: time_zone (IANA, where the times carry no offset), time_column, value_column, day_first,
        fahrenheit, and for times that count from a start starts_at and elapsed_unit ("hours", "minutes", ...).

    Raises
    ------
    ValueError
        When the file holds no table of readings, in a sentence. What can be asked is a question of the preview instead.

    >>> seen = look_at_log("Date;Temp °F\n29/03/2026 07:40;39,2\n29/03/2026 07:50;39.2\n", time_zone="Europe/Oslo")
    >>> seen.rows["at_text"].tolist(), seen.rows["value"].tolist()
    (['2026-03-29T07:40:00+02:00', '2026-03-29T07:50:00+02:00'], [4.0, 4.0])
    """
    return look(data, file=file, quantity=TEMPERATURE, choices=Choices(**choices))


def look_at_ph_log(data: bytes | str, *, file: str = "the file", **choices: Any) -> LogPreview:
    r"""Read the file of a pH meter and say what it holds; arguments as in ``look_at_log``, a temperature may stand beside.

    >>> seen = look_at_ph_log("time,pH\n2026-03-29T07:40+02:00,4.1\n2026-03-29T08:40+02:00,14.0\n")
    >>> print(seen.left_out[0])
    the file, row 3: pH is '14.0'; it must be pH 1 to 9. The row is left out; mend it in the file and read it again if it matters.
    """
    return look(data, file=file, quantity=PH, choices=Choices(**choices))


def add_log(experiment: Experiment, preview: LogPreview, *, place: str) -> Added:
    """Write a log's temperatures into temperatures.csv under ``place``, as one change; a row there already is not doubled.

    Raises
    ------
    ValueError
        While a question is open, when the preview is of another quantity, or when the record holds another temperature
        of that place and instant; then nothing is written.
    """
    _ready(preview, TEMPERATURE.name)
    named = said("place", place)
    held = experiment.table("temperatures", withdrawn=True)
    known = _known(held[held["place"] == named], "temp_c")
    fresh, already = _fresh(preview, known, place=named)
    rows = [{"place": named, "at": row["at_text"], "temp_c": row["value"]} for row in fresh]
    if rows:
        experiment.add({"temperatures": rows})
    return Added(written=len(rows), already=already)


def add_ph_log(experiment: Experiment, preview: LogPreview, *, jar: str, feed: int | None = None) -> Added:
    """Write a meter's pH (and temperature) as readings of a jar, as one change.

    Without ``feed`` each reading belongs to the jar's latest feed before it; those before its first feed are left out
    and counted.
    """
    _ready(preview, PH.name)
    belongs = feeds_of_readings(experiment, preview, jar=jar).set_index("row")["feed"]
    held = experiment.table("readings", withdrawn=True)
    fresh, already = _fresh(preview, _known(held[held["jar"] == jar], "ph"), place=jar)
    rows = []
    for row in fresh:
        number = belongs[row["row"]] if feed is None else feed
        if np.isnan(number):
            continue
        warm = {"temp_c": row["temp_c"]} if not np.isnan(row.get("temp_c", np.nan)) else {}
        rows.append({"jar": jar, "feed": int(number), "at": row["at_text"], "ph": row["value"], **warm})
    if rows:
        experiment.add({"readings": rows})
    return Added(written=len(rows), already=already, before_any_feed=len(fresh) - len(rows))


def feeds_of_readings(experiment: Experiment, preview: LogPreview, *, jar: str) -> pd.DataFrame:
    """Return the rows of a preview with the jar's latest feed before each (``feed``, nan where none) and ``hours_after`` it."""
    feeds = experiment.table("feeds")
    own = feeds[feeds["jar"] == jar].sort_values("at")
    if own.empty:
        message = (
            f"jar is {cut(jar)}; it has no feed in this record, and a reading belongs to a feed. Record the feed first."
        )
        raise ValueError(message)
    rows = preview.rows.copy()
    latest = own["at"].searchsorted(rows["at"], side="right") - 1
    known = latest >= 0
    rows["feed"] = np.where(known, own["feed"].to_numpy(dtype=float)[latest], np.nan)
    fed = own["at"].iloc[latest].reset_index(drop=True)
    rows["hours_after"] = np.where(known, (rows["at"] - fed).dt.total_seconds() / 3600, np.nan)
    return rows


def _ready(preview: LogPreview, quantity: str) -> None:
    if preview.quantity.name != quantity:
        message = (
            f"{preview.file} was read for {preview.quantity.name}; here {quantity} is added. Look at it again as that."
        )
        raise ValueError(message)
    if preview.questions:
        message = f"{preview.file} cannot be added yet. {preview.questions[0]}"
        raise ValueError(message)
    if preview.rows.empty:
        message = f"{preview.file} has no reading that can be used; each row was left out for its reason. Look at those first."
        raise ValueError(message)


def _known(held: pd.DataFrame, column: str) -> dict[Hashable, float | None]:
    """Return what stands at each instant; None where the row no longer counts, so that it is left as it is."""
    live = held["withdrawn"].isna().tolist()
    return {at: value if counts else None for at, value, counts in zip(held["at"], held[column], live, strict=True)}


def _fresh(
    preview: LogPreview, known: Mapping[Hashable, float | None], *, place: str
) -> tuple[list[dict[Hashable, Any]], int]:
    """Return the rows the record does not hold yet, and how many it holds; another value there is refused."""
    rows = preview.rows.to_dict("records")
    for row in rows:
        stands = known.get(row["at"])
        if stands is not None and not abs(stands - row["value"]) <= 1e-9:
            what = "nothing" if np.isnan(stands) else f"{stands:g}"
            message = (
                f"{cut(place)} has {what} at {row['at_text']} already, and row {row['row']} of {preview.file} says "
                f"{row['value']:g}; nothing was added. Correct or withdraw one of the two first."
            )
            raise ValueError(message)
    fresh = [row for row in rows if row["at"] not in known]
    return fresh, len(rows) - len(fresh)
