"""Writes the invented trial 'harbour rota' as an experiment folder; the same bytes on every machine.

The galley of a coastal supply ship, its cook away on rotations of 4 to 56 days, three cultures ashore named after
seabirds. Nothing in it was measured: every number comes from a hash and from ``Truth``, which the folder carries.

    python -m fallow.records.demo experiments/harbour-rota
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from fallow.records.changes import FILE as CHANGES_FILE
from fallow.records.csvtext import write_lines
from fallow.records.demo_design import Stream
from fallow.records.demo_rows import (
    Row,
    cells,
    culture_rows,
    feed_rows,
    feeds_told,
    flour_rows,
    jar_rows,
    plan_rows,
    reading_rows,
)
from fallow.records.demo_thermometers import temperature_rows
from fallow.records.demo_truth import TIME_ZONE, Truth
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.package import Package, write_package
from fallow.records.schema import BY_NAME, NUMBER, Column

TITLE = "Harbour rota"
QUESTION = (
    "INVENTED DATA. How many feeds does a starter need after 4 to 56 days in the cold, and do a third of rye, a warmer "
    "place, or waiting for the peak save any? The galley of a coastal supply ship; nothing in it was measured."
)
CREATED = "2025-12-10T09:00:00+00:00"
PLAN_COLUMNS = (
    Column(name="culture", holds="culture it is to get"),
    Column(name="hold_days", holds="days it is to spend in the cold", type=NUMBER, unit="d"),
    Column(name="cold_c", holds="temperature of the fridge it is to stand in", type=NUMBER, unit="°C"),
    Column(name="third_rye", holds="whether its recovery feeds are to be a third rye (1) or white (0)", type=NUMBER),
    Column(name="warm_c", holds="temperature it is to recover at", type=NUMBER, unit="°C"),
    Column(name="fed", holds="when it is to be fed: by the clock (every 12 h) or at the peak"),
    Column(name="bench_hours", holds="hours on the bench between its last feed and the fridge", type=NUMBER, unit="h"),
)


def tables(*, truth: Truth) -> dict[str, list[Row]]:
    """Return the rows of every table of the trial.

    >>> sorted(tables(truth=Truth()))
    ['cultures', 'feed_flours', 'feeds', 'jars', 'plan', 'readings', 'temperatures']
    """
    draws = Stream(seed=truth.seed)
    jars, told = cells(draws=draws), list(feeds_told(truth=truth, draws=draws))
    return {
        "plan": plan_rows(jars=jars, seed=truth.seed),
        "cultures": culture_rows(),
        "jars": jar_rows(jars=jars, draws=draws),
        "feeds": feed_rows(told),
        "feed_flours": flour_rows(told),
        "readings": reading_rows(told, draws=draws),
        "temperatures": temperature_rows(truth=truth, draws=draws),
    }


def write_harbour_rota(folder: Path, *, truth: Truth | None = None) -> None:
    """Write the trial's tables and its datapackage.json into ``folder``; what stands there under these names is replaced."""
    truth = truth or Truth()
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables(truth=truth).items():
        (folder / BY_NAME[name].file).write_bytes(as_csv(rows, columns_of(name)))
    (folder / PACKAGE_FILE).write_bytes(write_package(package(truth=truth)))
    (folder / CHANGES_FILE).write_bytes(b"")


def package(*, truth: Truth) -> Package:
    """Return what the folder says of itself: invented, from which seed, with every true number."""
    return Package(
        title=TITLE,
        question=QUESTION,
        name="harbour-rota",
        created=CREATED,
        time_zone=TIME_ZONE,
        invented=True,
        truth=truth.as_record(),
        plan_columns=PLAN_COLUMNS,
    )


def truth_lines(*, truth: Truth) -> list[str]:
    """Return the true numbers as the lines of a Markdown table, as the trial's README shows them."""
    rows = [
        f"| {name} {each.replace('_', ' ')} | {value:g} |"
        for name, culture in truth.cultures.items()
        for each, value in asdict(culture).items()
    ]
    plain = {name: value for name, value in truth.as_record().items() if name != "cultures"}
    rows += [f"| {name.replace('_', ' ')} | {value} |" for name, value in plain.items()]
    return ["| what | true value |", "| --- | --- |", *rows]


def columns_of(name: str) -> list[str]:
    """Return a table's columns in order; the plan has seven of its own."""
    own = [column.name for column in PLAN_COLUMNS] if name == "plan" else []
    return [*BY_NAME[name].names, *own]


def as_csv(rows: Sequence[Row], columns: Sequence[str]) -> bytes:
    r"""Return rows as the bytes of a CSV file: one line each, empty where nothing is known.

    >>> as_csv([{"jar": "J001", "note": None}], ["jar", "note"])
    b'jar,note\nJ001,\n'
    """
    lines = [["" if row.get(name) is None else str(row[name]) for name in columns] for row in rows]
    return write_lines([list(columns), *lines])


if __name__ == "__main__":
    write_harbour_rota(Path(sys.argv[1]))
