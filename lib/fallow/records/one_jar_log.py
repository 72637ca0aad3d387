"""What a baker does with the one jar, written down: a feed, into the cold, out again, a look, the end of a holiday."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum

import pandas as pd

from fallow.records.experiment import Experiment
from fallow.records.one_jar import CULTURE, IN_FORM_JAR, Stage, Standing, standing


class Ending(Enum):
    """How a holiday's jar ended; the value is the status the record keeps."""

    DONE = "done"
    BROKEN = "broken"
    LOST = "lost"


@dataclass(frozen=True, kw_only=True)
class GivenFeed:
    """One feed as it was really given; grams nobody weighed are None."""

    at: datetime
    seed_g: float | None
    water_g: float | None
    flours_g: Mapping[str, float] = field(hash=False)
    place_temp_c: float | None = None

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

    def flour_rows(self, *, jar: str, feed: int) -> list[dict[str, object]]:
        """Return its rows of feed_flours.csv."""
        return [{"jar": jar, "feed": feed, "flour": name, "grams": grams} for name, grams in self.flours_g.items()]


def log_ordinary_feed(experiment: Experiment, given: GivenFeed) -> None:
    """Write down a feed of the culture in form; three seen to their peak let the record say what the cold took."""
    jars = experiment.table("jars", withdrawn=True)
    new = [] if IN_FORM_JAR in set(jars["jar"]) else [_jar(IN_FORM_JAR, note="the culture in form; never put away")]
    number = _next_number(experiment, IN_FORM_JAR)
    row = given.row(jar=IN_FORM_JAR, feed=number, kind="baseline")
    experiment.add({"jars": new, "feeds": [row], "feed_flours": given.flour_rows(jar=IN_FORM_JAR, feed=number)})


def log_last_feed(experiment: Experiment, given: GivenFeed) -> str:
    """Write down the last feed before the cold and open the holiday's own jar, named by its day; return that name."""
    now = standing(experiment)
    if now.stage is not Stage.AT_HOME:
        message = f"jar {now.jar} is still open; one holiday is kept at a time. Write down how it ended first."
        raise ValueError(message)
    taken = set(experiment.table("jars", withdrawn=True)["jar"])
    day = f"{given.at:%Y-%m-%d}"
    jar = next(name for name in (day, *(f"{day} ({number})" for number in range(2, 100))) if name not in taken)
    row = given.row(jar=jar, feed=0, kind="last")
    experiment.add({"jars": [_jar(jar)], "feeds": [row], "feed_flours": given.flour_rows(jar=jar, feed=0)})
    return jar


def log_put_away(experiment: Experiment, *, at: datetime, place: str, temp_c: float) -> None:
    """Write down when the open jar went into the cold, where, and how cold it is there."""
    now = _expected(experiment, Stage.FED, "only a jar with its last feed goes to the cold")
    _not_before("in the cold", at, now.feeds["at"].max(), "the last feed")
    experiment.correct("jars", now.jar, put_away_at=at, hold_place=place, hold_temp_c=temp_c)


def log_out(experiment: Experiment, *, at: datetime) -> None:
    """Write down when the open jar came out of the cold."""
    now = _expected(experiment, Stage.COLD, "only a jar that is in the cold can come out")
    experiment.correct("jars", now.jar, out_at=at)


def log_recovery_feed(experiment: Experiment, given: GivenFeed) -> None:
    """Write down the next feed after the cold."""
    now = _expected(experiment, Stage.BACK, "feeds after the cold are counted once the jar is out")
    _not_before(f"feed {now.next_feed}", given.at, now.out_at, "the jar came out")
    number = _next_number(experiment, now.jar)
    row = given.row(jar=now.jar, feed=number, kind="recovery")
    experiment.add({"feeds": [row], "feed_flours": given.flour_rows(jar=now.jar, feed=number)})


def log_look(experiment: Experiment, *, at: datetime, height: float | None, **columns: object) -> None:
    """Write down one look at the newest feed; ``columns`` as in readings.csv."""
    now = standing(experiment)
    if now.feed is None:
        message = "there is no feed to look at yet; a look belongs to one. Write the feed down first."
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
    if earliest is not None and pd.Timestamp(at) < earliest:
        shown = earliest.tz_convert(at.tzinfo)
        message = f"{what}: {at:%d %b %H:%M} is before {than}, {shown:%d %b %H:%M}; time goes one way. Check both."
        raise ValueError(message)
