"""One jar and its holidays: what a baker without a trial writes down, kept as an experiment like any other."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from pathlib import Path

import pandas as pd

from fallow.records.experiment import Experiment
from fallow.records.package import FILE as PACKAGE_FILE

NAME = "my-starter"
CULTURE = "my starter"
IN_FORM_JAR = "in form"
TITLE = "My starter and its holidays"
QUESTION = "After a holiday in the cold, how many feeds does my starter need until it is back in form?"


class Stage(Enum):
    """Where the jar stands on its way through one holiday."""

    AT_HOME = "at home, in form"
    FED = "fed, not yet in the cold"
    COLD = "in the cold"
    BACK = "out of the cold, being fed"


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How things stand: the open jar, or the culture at home when no holiday is open.

    ``jar`` and ``feed`` name what a look belongs to (feed None: there is no feed to look at); ``feeds`` are the jar's
    feeds and ``looks`` those at the newest of them, both in order of time. Times are UTC instants, NaT where not yet.
    """

    stage: Stage
    jar: str
    feed: int | None
    feeds: pd.DataFrame
    looks: pd.DataFrame
    put_away_at: pd.Timestamp | None = None
    out_at: pd.Timestamp | None = None
    hold_place: str = ""
    hold_temp_c: float | None = None

    @property
    def next_feed(self) -> int:
        """Return the number of the feed that would come next."""
        return 1 if self.feed is None else self.feed + 1


def found(folder: Path, *, name: str = NAME) -> Experiment | None:
    """Return the baker's one-jar experiment in ``folder``: ``name``, ``name``-2, ...; None where there is none yet.

    One that is ours but cannot be read is no reason to begin another: its first problem is raised.
    """
    for path in _names(folder, name):
        if not path.exists():
            return None
        if not (path / PACKAGE_FILE).is_file():
            continue
        experiment = Experiment.open(path)
        if experiment.question != QUESTION:
            continue
        problems = experiment.check()
        if problems:
            raise ValueError(str(problems[0]))
        return experiment
    return None


def begun(folder: Path, *, time_zone: str, name: str = NAME) -> Experiment:
    """Return the baker's one-jar experiment, begun under the next free name when there is none yet."""
    experiment = found(folder, name=name)
    if experiment is None:
        path = next(path for path in _names(folder, name) if not path.exists())
        experiment = Experiment.create(path, title=TITLE, question=QUESTION, time_zone=time_zone)
    if not len(experiment.cultures):
        experiment.add_culture(culture=CULTURE)
    return experiment


def standing(experiment: Experiment) -> Standing:
    """Return how things stand: the newest jar that is running, else the culture at home."""
    jars = experiment.jars
    running = jars[(jars["status"] == "running") & (jars["jar"] != IN_FORM_JAR)]
    if not len(running):
        feed, feeds, looks = _newest_feed(experiment, IN_FORM_JAR)
        return Standing(stage=Stage.AT_HOME, jar=IN_FORM_JAR, feed=feed, feeds=feeds, looks=looks)
    row = running.iloc[-1]
    put_away, out = (None if pd.isna(row[name]) else row[name] for name in ("put_away_at", "out_at"))
    stage = Stage.FED if put_away is None else Stage.COLD if out is None else Stage.BACK
    feed, feeds, looks = _newest_feed(experiment, str(row["jar"]))
    return Standing(
        stage=stage,
        jar=str(row["jar"]),
        feed=feed,
        feeds=feeds,
        looks=looks,
        put_away_at=put_away,
        out_at=out,
        hold_place="" if pd.isna(row["hold_place"]) else str(row["hold_place"]),
        hold_temp_c=None if pd.isna(row["hold_temp_c"]) else float(row["hold_temp_c"]),
    )


def _names(folder: Path, name: str) -> list[Path]:
    return [folder / name, *(folder / f"{name}-{number}" for number in range(2, 100))]


def _newest_feed(experiment: Experiment, jar: str) -> tuple[int | None, pd.DataFrame, pd.DataFrame]:
    feeds, looks = experiment.feeds, experiment.readings
    mine = feeds[feeds["jar"] == jar].sort_values("feed", ignore_index=True)
    newest = int(mine["feed"].iloc[-1]) if len(mine) else None
    seen = looks[(looks["jar"] == jar) & (looks["feed"] == (-1 if newest is None else newest))]
    return newest, mine, seen.sort_values("at", ignore_index=True)
