"""What each form of the trial book writes into the record; every function returns the sentence that says so."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime

from fallow.panels.record_a_trial.words import clock, plain
from fallow.records.experiment import Experiment
from fallow.records.feed_numbers import feed_at, next_number
from fallow.records.pasted_times import AHEAD
from fallow.records.said_time import in_full

_FLOUR = re.compile(
    r"([0-9]+(?:[.,][0-9]+)?) ?g? ?([a-z][a-z0-9_ ]*)|([a-z][a-z0-9_ ]*?)[ :=]+([0-9]+(?:[.,][0-9]+)?) ?g?"
)


def save_reading(
    experiment: Experiment, *, jar: str, at: datetime, now: datetime, height: float | None, **seen: object
) -> str:
    """Write a look at the feed that stood in the jar then; ``seen`` as in readings.csv, empty where nothing was noted."""
    not_yet(at, now=now, time_zone=experiment.time_zone)
    noted = {name: value for name, value in seen.items() if value not in (None, "")}
    if height is None and not noted:
        message = f"nothing was noted for {plain(jar)}; a look needs a height or a word. Type the height first."
        raise ValueError(message)
    feed = feed_at(experiment, jar=jar, at=at)
    looks = experiment.readings
    if ((looks["jar"] == jar) & (looks["at"] == at)).any():
        message = (
            f"a look at {plain(jar)}, {in_full(at=at, time_zone=experiment.time_zone)}, is on record already; two looks have "
            "two times. Change the time, or withdraw the one that is there."
        )
        raise ValueError(message)
    experiment.add_reading(jar=jar, feed=feed, at=at, height=height, **noted)
    what = "a look without height" if height is None else f"{height:g} {height_unit(experiment, jar)}"
    return f"Saved: {what} for {plain(jar)}, feed {feed}, {in_full(at=at, time_zone=experiment.time_zone)}."


def save_feed(
    experiment: Experiment,
    *,
    jar: str,
    kind: str,
    at: datetime,
    now: datetime,
    seed_g: float | None,
    water_g: float | None,
    flours: str,
    **columns: object,
) -> str:
    """Write a feed under its jar's next number; ``flours`` as in '80 bread, 20 rye'."""
    not_yet(at, now=now, time_zone=experiment.time_zone)
    number = next_number(experiment, jar=jar, kind=kind)
    feeds = experiment.feeds
    newest = feeds.loc[feeds["jar"] == jar, "at"].max()
    if at <= newest:
        message = (
            f"{plain(jar)} was fed {in_full(at=newest, time_zone=experiment.time_zone)}; the next feed comes after that. "
            "Check the time, or withdraw the feed that is wrong."
        )
        raise ValueError(message)
    given = read_flours(flours)
    noted = {name: value for name, value in columns.items() if value not in (None, "")}
    experiment.add_feed(
        jar=jar, feed=number, at=at, seed_g=seed_g, water_g=water_g, flours_g=given or None, kind=kind, **noted
    )
    return f"Saved: feed {number} of {plain(jar)}, {in_full(at=at, time_zone=experiment.time_zone)}."


def save_jar(experiment: Experiment, *, jar: str, culture: str, **columns: object) -> str:
    """Write a new jar, and its culture with it when the record does not have it yet."""
    name, of = jar.strip(), culture.strip()
    if not name or not of:
        lacking = "name" if not name else "culture"
        message = f"the {lacking} is empty; a jar has a name and a culture. Type its {lacking}."
        raise ValueError(message)
    if name in set(experiment.table("jars", withdrawn=True)["jar"]):
        message = (
            f"there is a jar {plain(name)} already; each jar has its own name. Give this one another, as on its label."
        )
        raise ValueError(message)
    known = set(experiment.table("cultures")["culture"])
    noted = {key: value for key, value in columns.items() if value not in (None, "")}
    row = {"jar": name, "culture": of, "height_unit": "mm", "status": "running", **noted}
    experiment.add({"cultures": [] if of in known else [{"culture": of}], "jars": [row]})
    return f"Saved: jar {plain(name)}, culture {plain(of)}{'' if of in known else ', which is new here'}."


def save_place(experiment: Experiment, *, jar: str, now: datetime, **columns: object) -> str:
    """Write into a jar's row when it went into or came out of the cold, where that was, how it ended."""
    for name in ("put_away_at", "out_at"):
        at = columns.get(name)
        if isinstance(at, datetime):
            not_yet(at, now=now, time_zone=experiment.time_zone)
    noted = {name: value for name, value in columns.items() if value not in (None, "")}
    if not noted:
        message = f"nothing was noted for {plain(jar)}; there is nothing to save. Type a time, a place or an ending."
        raise ValueError(message)
    _in_then_out(experiment, jar=jar, noted=noted)
    experiment.correct("jars", jar, **noted)
    said = ", ".join(f"{_SAID[name]} {_value(value, experiment)}" for name, value in noted.items())
    return f"Saved: jar {plain(jar)}: {said}."


def _in_then_out(experiment: Experiment, *, jar: str, noted: Mapping[str, object]) -> None:
    """Refuse a jar that would come out of the cold before it went in."""
    row = experiment.jars.set_index("jar").loc[jar]
    into, out = (noted.get(name, row[name]) for name in ("put_away_at", "out_at"))
    if isinstance(into, datetime) and isinstance(out, datetime) and out <= into:
        said = [in_full(at=at, time_zone=experiment.time_zone) for at in (into, out)]
        message = f"{plain(jar)} went into the cold {said[0]} and would come out {said[1]}; it comes out later. Check both times."
        raise ValueError(message)


_SAID = {
    "put_away_at": "into the cold", "out_at": "out of the cold", "hold_place": "held in", "hold_temp_c": "held at °C",
    "status": "now", "note": "note",
}  # fmt: skip


def _value(value: object, experiment: Experiment) -> str:
    if isinstance(value, datetime):
        return in_full(at=value, time_zone=experiment.time_zone)
    return f"{value:g}" if isinstance(value, float) else plain(value)


def withdrawable(experiment: Experiment, *, jar: str, now: datetime) -> dict[str, tuple[str, tuple[object, ...]]]:
    """Return what of a jar can be withdrawn, in words: its last looks, its last feeds, the jar; each with its key."""
    found: dict[str, tuple[str, tuple[object, ...]]] = {}
    zone, unit = experiment.time_zone, height_unit(experiment, jar)
    looks, feeds = experiment.readings, experiment.feeds
    for row in looks[looks["jar"] == jar].sort_values("at").tail(6).iloc[::-1].itertuples(index=False):
        height = f"{row.height:g} {unit}" if row.height == row.height else "without height"
        said = clock(row.at.to_pydatetime(), now=now, time_zone=zone)
        found[f"look {height}, {said}, at feed {row.feed}"] = ("readings", (jar, row.feed, row.at_text))
    for row in feeds[feeds["jar"] == jar].sort_values("at").tail(3).iloc[::-1].itertuples(index=False):
        said = clock(row.at.to_pydatetime(), now=now, time_zone=zone)
        found[f"feed {row.feed}, {said}, and its looks"] = ("feeds", (jar, row.feed))
    found["the whole jar"] = ("jars", (jar,))
    return found


def not_yet(at: datetime, *, now: datetime, time_zone: str) -> None:
    """Refuse an instant that is still to come."""
    if at > now + AHEAD:
        message = (
            f"{in_full(at=at, time_zone=time_zone)} is still to come; the record holds what was done. Write yesterday "
            "before the hour, or correct it."
        )
        raise ValueError(message)


def read_flours(text: str) -> Mapping[str, float]:
    """Return flours and their grams; a decimal comma is read when a letter, not a digit, follows the next one.

    >>> dict(read_flours("80 bread, 20,5 rye")), dict(read_flours("white rye: 30 + bread 70"))
    ({'bread': 80.0, 'rye': 20.5}, {'white_rye': 30.0, 'bread': 70.0})
    """
    grams: dict[str, float] = {}
    for part in filter(None, (part.strip() for part in re.split(r"[;+\n]|,(?![0-9])", text.lower()))):
        found = _FLOUR.fullmatch(part)
        if found is None:
            message = f"{plain(part)!r} is no flour with its grams; both are needed. Write it as in 80 bread, 20 rye."
            raise ValueError(message)
        name = re.sub(r"[ ]+", "_", (found[2] or found[3]).strip())
        if name in grams:
            message = f"{name} stands twice; each flour stands once. Write its grams together."
            raise ValueError(message)
        grams[name] = float((found[1] or found[4]).replace(",", "."))
    return grams


def height_unit(experiment: Experiment, jar: str) -> str:
    """Return the unit of a jar's heights."""
    jars = experiment.jars
    units = jars.loc[jars["jar"] == jar, "height_unit"]
    return str(units.iloc[0]) if len(units) and isinstance(units.iloc[0], str) else "mm"
