"""Kill a writer at random moments, over and over, and look at what it left: ``killed.py FOLDER ROUNDS SEED``.

A child process makes one numbered change after another and says each number when it is done; the parent kills it with
signal 9 somewhere in between. What the folder then holds must be the first n changes, whole, with n at least the last
number said. Prints one line of JSON a round.
"""

from __future__ import annotations

import json
import os
import random
import select
import signal
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from fallow.records.experiment import Experiment

START = datetime(2026, 1, 1, tzinfo=UTC)


def begin(folder: Path) -> None:
    """Write the experiment that the changes are made to."""
    record = Experiment.create(folder, title="Killed", question="Is every row still there?")
    record.add_culture(culture="gull")
    record.add_jar(jar="J1", culture="gull")


def change(record: Experiment, number: int) -> None:
    """Make change ``number``: a feed with its flours (three files), a reading (two), or a correction (a file rewritten)."""
    feed, step = divmod(number, 5)
    at = START + timedelta(hours=12 * feed, minutes=step)
    if step == 0:
        record.add_feed(jar="J1", feed=feed, at=at, seed_g=20, water_g=100, flours_g={"bread": 80, "rye": 20})
    elif step < 4:
        record.add_reading(jar="J1", feed=feed, at=at, height=number)
    else:
        record.correct("readings", ("J1", feed, at - timedelta(minutes=1)), height=number + 0.25)


def expected(changes: int) -> tuple[list[int], list[float]]:
    """Return the feeds and the heights that the first ``changes`` changes leave."""
    feeds, heights = [], []
    for number in range(changes):
        feed, step = divmod(number, 5)
        if step == 0:
            feeds.append(feed)
        elif step < 4:
            heights.append(float(number))
        else:
            heights[-1] = number + 0.25
    return feeds, heights


def done(folder: Path) -> int:
    """Return how many of the numbered changes the folder holds: its lines of changes.jsonl but the first two."""
    return len((folder / "changes.jsonl").read_text(encoding="utf-8").splitlines()) - 2


def write_until_killed(folder: Path, first: int, said: int) -> None:
    """Make changes for ever, saying each number when it is on disk."""
    record = Experiment.open(folder)
    number = first
    while True:
        change(record, number)
        os.write(said, b"%d\n" % number)
        number += 1


def one_round(folder: Path, seconds: float) -> dict[str, object]:
    """Start a writer, kill it ``seconds`` after its first change, and say what is left."""
    heard, said = os.pipe()
    first = done(folder)
    child = os.fork()
    if child == 0:
        os.close(heard)
        write_until_killed(folder, first, said)
    os.close(said)
    text = os.read(heard, 65536)
    select.select([], [], [], seconds)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while more := os.read(heard, 65536):
        text += more
    os.close(heard)
    journal = (folder / ".fallow" / "journal").exists()
    record = Experiment.open(folder)
    changes = done(folder)
    held = (record.feeds["feed"].tolist(), record.readings["height"].tolist())
    return {
        "problems": [str(problem) for problem in record.check()],
        "said": int(text.split()[-1]) + 1,
        "changes": changes,
        "whole": held == expected(changes),
        "flours": len(record.flours) == 2 * len(held[0]),
        "journal": journal,
    }


if __name__ == "__main__":
    where, rounds, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    begin(where)
    moments = random.Random(seed)
    for _ in range(rounds):
        print(json.dumps(one_round(where, moments.uniform(0, 0.06))), flush=True)
