"""Published rise curves to an experiment folder: one row per tube, its height in pixels in columns m0, m30, m60 ...

Made for the dough rise of household starters of Landis et al. 2021, eLife 10:e61644, figure 4, source data 3 (CC BY
4.0), saved as a wide CSV: batch, cluster, starter, rep, tube, then m<minutes> columns; any grid of minutes is read.
The data stay under their own licence and are not part of this project.

    python -m fallow.records.rise_curves SOURCE.csv FOLDER
"""

from __future__ import annotations

import csv
import re
import sys
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from fallow.records.experiment import Experiment
from fallow.records.package import Package
from fallow.records.write import write_experiment

SOURCE = "Landis et al. 2021, eLife 10:e61644, figure 4, source data 3"
_DOI = "https://doi.org/10.7554/eLife.61644"
_LICENCE = "CC-BY-4.0"
_LABELS = ("batch", "cluster", "starter", "rep", "tube")
_MINUTES = re.compile(r"m([0-9]+)")
# The source gives no clock time. Only differences of instants mean anything, so every tube starts at one nominal hour.
NOMINAL_START = datetime(2000, 1, 1, tzinfo=UTC)

README = f"""# Rise of dough raised by household starters

{{tubes}} tubes of dough from {{cultures}} cultures (the one called blank is one of them).
Source: {SOURCE}.
The data are under {_LICENCE} and stay so; cite the authors when you use them.

## What is known

- Each culture is a starter of the source, by its number; each jar is a tube; its block is the source's batch.
- Heights are changes since the start, in pixels of the photograph: not millimetres, and no start height is given, so a
  rise ratio cannot be made of them.
- The authors cut a curve off after a fall of more than 5 %; cells they left blank are no readings here.
- Tubes called blank rise too, some of them far. The source does not say why.

## What is not known

- The clock: every tube starts at a nominal hour, 2000-01-01 00:00 UTC. Only the hours between times mean anything.
- The grams and the flour of the feed: its cells are empty, and so is its kind.
- The temperature: none is in the source file.
"""


def convert_rise_curves(source: str | Path, folder: str | Path) -> Experiment:
    """Write the experiment folder of a file of rise curves, and open it.

    Raises
    ------
    ValueError
        With one sentence, when the file is not laid out as this module says; then nothing is written.
    """
    path = Path(source)
    tubes = _tubes(path)
    minutes = {name: int(match[1]) for name in tubes[0] if (match := _MINUTES.fullmatch(name))}
    tables = {
        "cultures": _cultures(tubes),
        "jars": [_jar(tube) for tube in tubes],
        "feeds": [
            {"jar": _name(tube), "feed": 1, "at": NOMINAL_START, "note": "grams not in the source"} for tube in tubes
        ],
        "readings": [reading for tube in tubes for reading in _readings(tube, minutes)],
    }
    package = Package(
        title="Rise of dough raised by household starters",
        question="How does dough rise over 35 hours, for each of 40 household starters in three tubes?",
        name="household-rise-curves",
        created=NOMINAL_START.isoformat(),
        licence=_LICENCE,
        sources=({"title": SOURCE, "path": _DOI},),
    )
    return write_experiment(
        folder, package=package, tables=tables, readme=README.format(tubes=len(tubes), cultures=len(tables["cultures"]))
    )


def _tubes(path: Path) -> list[dict[str, str]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            tubes = [{key: cell.strip() for key, cell in row.items()} for row in csv.DictReader(stream, strict=True)]
    except (OSError, UnicodeDecodeError, csv.Error, AttributeError, TypeError) as error:
        message = f"{path.name} cannot be read as a table ({error}). Save the source as CSV, UTF-8, one row per tube."
        raise ValueError(message) from error
    names = list(tubes[0]) if tubes else []
    lacking = [label for label in _LABELS if label not in names]
    if lacking or not any(_MINUTES.fullmatch(name) for name in names):
        wanted = f"{', '.join(_LABELS)} and one column m<minutes> per photograph"
        lacks = ", ".join(lacking) or "columns of minutes"
        message = f"{path.name} lacks {lacks}; it must hold {wanted}. Rename its columns."
        raise ValueError(message)
    return tubes


def _name(tube: Mapping[str, str]) -> str:
    return f"b{tube['batch']}-{tube['starter'].lower()}-{tube['rep']}"


def _cultures(tubes: Sequence[Mapping[str, str]]) -> list[dict[str, object]]:
    clusters = {tube["starter"].lower(): tube["cluster"] for tube in tubes}
    return [{"culture": name, "note": f"cluster {cluster} of the source"} for name, cluster in clusters.items()]


def _jar(tube: Mapping[str, str]) -> dict[str, object]:
    return {
        "jar": _name(tube),
        "culture": tube["starter"].lower(),
        "block": tube["batch"],
        "position": tube["tube"],
        "height_unit": "px",
        "status": "done",
        "note": f"replicate {tube['rep']}",
    }


def _readings(tube: Mapping[str, str], minutes: Mapping[str, int]) -> list[dict[str, object]]:
    return [
        {"jar": _name(tube), "feed": 1, "at": NOMINAL_START + timedelta(minutes=minute), "height": tube[name]}
        for name, minute in minutes.items()
        if tube[name] != ""
    ]


if __name__ == "__main__":
    convert_rise_curves(sys.argv[1], sys.argv[2])
