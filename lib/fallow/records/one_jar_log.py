"""What a baker does with the one jar, written down: a feed, into the cold, out again, a look, the end of a holiday."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum
from typing import Any

import pandas as pd

from fallow.records.experiment import Experiment
from fallow.records.mending import last_change
from fallow.records.one_jar import CULTURE, IN_FORM_JAR, Stage, Standing, standing


class Ending(Enum):
    """How a holiday's jar ended; the value is the status the record keeps."""

    DONE = "done"
    BROKEN = "broken"
    LOST = "lost"


@dataclass(frozen=True, kw_only=True)
class GivenFeed:
    """One feed as it was really given; grams nobody weighed are None, ``height`` is what stood in the jar right after."""

    at: datetime
    seed_g: float | None
    water_g: float | None
    flours_g: Mapping[str, float] = field(hash=False)
    place_temp_c: float | None = None
    height: float | None = None

    def rows(self, *, jar: str, feed: int, kind: str) -> dict[str, list[dict[str, object]]]:
        """Return its rows, table by table, to be written as one change."""
        looks = [] if self.height is None else [{"jar": jar, "feed": feed, "at": self.at, "height": self.height}]
        flours = [{"jar": jar, "feed": feed, "flour": name, "grams": grams} for name, grams in self.flours_g.items()]
        return {"feeds": [self.row(jar=jar, feed=feed, kind=kind)], "feed_flours": flours, "readings": looks}

    def row(self, *, jar: str, feed: int, kind: str) -> dict[str, object]:
        """Return its row of feeds.csv."""
        return {
            "jar": jar,
            "feed": feed,
            "kind": kind,
            "at": self.at,
            "seed_g": self.seed_g,
            "water_g": self.water_g,
            "place": None if self.place_temp_c is None else "kitchen",
            "place_temp_c": self.place_temp_c,
        }


def log_ordinary_feed(experiment: Experiment, given: GivenFeed) -> None:
    """Write down a feed of the culture in form; three seen to their peak let the record say what the cold took."""
    jars = experiment.table("jars", withdrawn=True)
    new = [] if IN_FORM_JAR in set(jars["jar"]) else [_jar(IN_FORM_JAR, note="the culture in form; never put away")]
    number = _next_number(experiment, IN_FORM_JAR)
    before = experiment.feeds
    _after("this feed", given.at, before.loc[before["jar"] == IN_FORM_JAR, "at"].max(), "the feed before it")
    experiment.add({"jars": new, **given.rows(jar=IN_FORM_JAR, feed=number, kind="baseline")})


def log_last_feed(experiment: Experiment, given: GivenFeed) -> str:
    """Write down the last feed before the cold and open the holiday's own jar, named by its day; return that name."""
    now = standing(experiment)
    if now.stage is not Stage.AT_HOME:
        message = f"jar {now.jar} is still open; one holiday is kept at a time. Write down how it ended first."
        raise ValueError(message)
    taken = set(experiment.table("jars", withdrawn=True)["jar"])
    day = f"{given.at:%Y-%m-%d}"
    jar = next(name for name in (day, *(f"{day} ({number})" for number in range(2, 100))) if name not in taken)
    experiment.add({"jars": [_jar(jar)], **given.rows(jar=jar, feed=0, kind="last")})
    return jar


def log_put_away(experiment: Experiment, *, at: datetime, place: str, temp_c: float) -> None:
    """Write down when the open jar went into the cold, where, and how cold it is there."""
    now = _expected(experiment, Stage.FED, "only a jar with its last feed goes to the cold")
    _not_before("in the cold", at, now.feeds["at"].max(), "the last feed")
    experiment.correct("jars", now.jar, put_away_at=at, hold_place=place, hold_temp_c=temp_c)


def log_out(experiment: Experiment, *, at: datetime) -> None:
    """Write down when the open jar came out of the cold."""
    now = _expected(experiment, Stage.COLD, "only a jar that is in the cold can come out")
    _not_before("out of the fridge", at, now.put_away_at, "it went in")
    experiment.correct("jars", now.jar, out_at=at)


def log_recovery_feed(experiment: Experiment, given: GivenFeed) -> None:
    """Write down the next feed after the cold."""
    now = _expected(experiment, Stage.BACK, "feeds after the cold are counted once the jar is out")
    _not_before(f"feed {now.next_feed}", given.at, now.out_at, "the jar came out")
    _after(f"feed {now.next_feed}", given.at, now.feeds["at"].max(), "the feed before it")
    number = _next_number(experiment, now.jar)
    experiment.add(given.rows(jar=now.jar, feed=number, kind="recovery"))


def log_look(experiment: Experiment, *, at: datetime, height: float | None, **columns: object) -> None:
    """Write down one look at the newest feed; ``columns`` as in readings.csv."""
    now = standing(experiment)
    if now.feed is None:
        message = "there is no feed to look at yet; a look belongs to one. Write the feed down first."
        raise ValueError(message)
    _not_before("the look", at, now.feeds.loc[now.feeds["feed"] == now.feed, "at"].max(), "its feed")
    if (now.looks["at"] == pd.Timestamp(at)).any():
        message = f"a look at {at:%H:%M} is written down already; two looks have two hours. Change the hour, or take that one back."
        raise ValueError(message)
    experiment.add_reading(jar=now.jar, feed=now.feed, at=at, height=height, **columns)


def log_ending(experiment: Experiment, *, ending: Ending, note: str = "") -> None:
    """Close the open jar: ``DONE`` when the holiday is over, else what became of it."""
    now = standing(experiment)
    if now.stage is Stage.AT_HOME:
        message = "no jar is open; there is nothing to close. Write down a last feed first."
        raise ValueError(message)
    experiment.correct("jars", now.jar, status=ending.value, note=note.strip())


def _jar(jar: str, *, note: str = "") -> dict[str, object]:
    return {"jar": jar, "culture": CULTURE, "height_unit": "mm", "status": "running", "note": note}


def _next_number(experiment: Experiment, jar: str) -> int:
    """Return the number after the highest that was ever given, withdrawn feeds too: their keys stay taken."""
    feeds = experiment.table("feeds", withdrawn=True)
    numbers = feeds.loc[feeds["jar"] == jar, "feed"]
    return max(1, int(numbers.max()) + 1) if len(numbers) else 1


def _expected(experiment: Experiment, stage: Stage, rule: str) -> Standing:
    now = standing(experiment)
    if now.stage is not stage:
        message = f"the jar is {now.stage.value}; {rule}. Run the page again to see how it stands."
        raise ValueError(message)
    return now


def _not_before(what: str, at: datetime, earliest: pd.Timestamp | None, than: str) -> None:
    if earliest is not None and not pd.isna(earliest) and pd.Timestamp(at) < earliest:
        raise _wrong_way(what, at, "before", earliest, than)


def _after(what: str, at: datetime, earlier: pd.Timestamp, than: str) -> None:
    if not pd.isna(earlier) and pd.Timestamp(at) <= earlier:
        raise _wrong_way(what, at, "not after", earlier, than)


def _wrong_way(what: str, at: datetime, how: str, other: pd.Timestamp, than: str) -> ValueError:
    shown = other.tz_convert(at.tzinfo)
    return ValueError(f"{what}: {at:%d %b %H:%M} is {how} {than}, {shown:%d %b %H:%M}; time goes one way. Check both.")


def last_entry(experiment: Experiment) -> str:
    """Return in a few words what ``Experiment.undo`` would take back; empty where there is nothing of a holiday left.

    >>> import tempfile
    >>> from pathlib import Path
    >>> from fallow.records.one_jar import begun
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     last_entry(begun(Path(folder), time_zone="UTC"))
    ''
    """
    change = last_change(experiment.folder)
    rows = [] if change is None else list(change["rows"])
    tables = {row["table"]: row for row in rows}
    if "feeds" in tables:
        feed = tables["feeds"]["key"]["feed"]
        return "the last feed" if feed == "0" else f"feed {feed}"
    if "readings" in tables:
        return f"the look at {tables['readings']['key']['at'][11:16]}"
    if "jars" in tables:
        return _of_jar(tables["jars"])
    return ""


def _of_jar(row: Mapping[str, Any]) -> str:
    """Return which step of the holiday a change of its jar was."""
    before, after = row["before"] or {}, row["after"] or {}
    steps = {"put_away_at": "into the fridge", "out_at": "out of the fridge"}
    return next((said for name, said in steps.items() if before.get(name) != after.get(name)), "the end of the holiday")
