"""One experiment folder: opened, checked, changed; nothing is lost and nothing half-written."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from pathlib import Path

import pandas as pd

from fallow.records.begin import begin, said
from fallow.records.changes import behind, change_line, changes_frame, now, read_changes
from fallow.records.entry import Batch, appended, judge, made_rows, table_named, text_row, usual_kind
from fallow.records.journal import commit
from fallow.records.lock import locked
from fallow.records.mending import Key, Mended, correct, declare, restore, undo, withdraw
from fallow.records.package import Package, RecoveryRule, checked_flour, checked_time_zone, slug
from fallow.records.problems import Problem, refuse
from fallow.records.store import Store
from fallow.records.views import counting, plain, with_flours

When = str | datetime


class Experiment:
    """An experiment folder as tables and as a record that takes rows.

    Every table leaves out rows that are withdrawn, and what belongs to them; ``table(name, withdrawn=True)`` has all.
    Text columns are dtype str (nan where empty), numbers float64 (nan where empty), ``feed`` int64. Every time
    (``at``, ``put_away_at``, ``out_at``) is a UTC instant, datetime64[us, UTC]; the ISO text with the offset it was
    typed with stands beside it as ``<name>_text``. Hours are differences of instants.

    A table that has problems of its own is not handed out half-read: it raises its first problem; ``check()`` has all.
    """

    def __init__(self, folder: Path, *, day_first: bool | None = None) -> None:
        self.folder = folder
        self._store = Store(folder, day_first=day_first)
        self._store.refresh()

    @classmethod
    def open(cls, folder: str | Path, *, day_first: bool | None = None) -> Experiment:
        """Open a folder, sound or broken; ``day_first`` settles dates such as 03/04/2026 that a spreadsheet wrote."""
        path = Path(folder)
        if not path.is_dir():
            message = f"{path} is no folder; an experiment is one. Check the name, or begin one with Experiment.create."
            raise ValueError(message)
        return cls(path, day_first=day_first)

    @classmethod
    def create(
        cls,
        folder: str | Path,
        *,
        title: str,
        question: str,
        time_zone: str = "UTC",
        rule: RecoveryRule | None = None,
        flours: Mapping[str, str] | None = None,
        created: str = "",
    ) -> Experiment:
        """Begin an experiment in a new or empty folder: empty tables, a README with the question, the rule of recovery.

        Parameters
        ----------
        time_zone
            IANA name of the kitchen's time zone.
        rule
            When a jar counts as recovered; it is written down before the data.
        flours
            Flours beside the known ones: name (a word that can stand in a formula) and what it is.
        """
        package = Package(
            title=said("title", title),
            question=said("question", question),
            name=slug(title),
            created=created or now(),
            time_zone=checked_time_zone(time_zone),
            rule=rule or RecoveryRule(),
            flours={checked_flour(name): holds for name, holds in (flours or {}).items()},
        )
        begin(Path(folder), package)
        return cls(Path(folder))

    def __repr__(self) -> str:
        return f"Experiment({str(self.folder)!r})"

    def check(self) -> list[Problem]:
        """Return everything that is wrong with the folder as it stands on disk now; empty when it is sound."""
        self._store.refresh()
        problems = list(self._store.problems())
        return problems if self._store.other_version else problems + read_changes(self.folder)[1]

    @property
    def package(self) -> Package:
        """What datapackage.json says."""
        self._store.refresh()
        return self._store.package

    @property
    def title(self) -> str:
        """The experiment's title."""
        return self.package.title

    @property
    def question(self) -> str:
        """What the experiment asks."""
        return self.package.question

    @property
    def time_zone(self) -> str:
        """IANA name of the kitchen's time zone."""
        return self.package.time_zone

    @property
    def rule(self) -> RecoveryRule:
        """When a jar counts as recovered."""
        return self.package.rule

    @property
    def licence(self) -> str:
        """SPDX id of the data's licence."""
        return self.package.licence

    @property
    def invented(self) -> bool:
        """Whether the data come from a generator, not from a kitchen."""
        return self.package.invented

    @property
    def declared_flours(self) -> Mapping[str, str]:
        """Flours this experiment knows beside the usual ones, and what each is."""
        return self.package.flours

    def table(self, name: str, *, withdrawn: bool = False) -> pd.DataFrame:
        """Return a table by its file's name; with ``withdrawn`` all its rows, also those that no longer count."""
        table_named(name)
        self._sound(name)
        frames = self._store.frames
        return plain(frames[name].copy() if withdrawn else counting(name=name, frames=frames))

    def _sound(self, name: str) -> None:
        self._store.refresh()
        refuse(self._store.package_problems)
        for one in {name, "jars", "feeds"} if name in ("feeds", "readings", "feed_flours") else {name}:
            refuse(self._store.tables[one].problems)

    @property
    def cultures(self) -> pd.DataFrame:
        """One row per culture: flour, hydration_fraction, and pace, ripening_doublings, rise_ratio with their ends."""
        return self.table("cultures")

    @property
    def jars(self) -> pd.DataFrame:
        """One row per jar; ``put_away_at`` and ``out_at`` are UTC instants, nan where the jar was not put away."""
        return self.table("jars")

    @property
    def feeds(self) -> pd.DataFrame:
        """One row per feed, with ``<flour>_g`` per flour of the record, ``flour_g`` and ``dilution``.

        A flour a feed does not name is 0 g here; where no flour of a feed is known all of them are nan.
        """
        return with_flours(feeds=self.table("feeds"), flours=self.flours)

    @property
    def flours(self) -> pd.DataFrame:
        """One row per flour of a feed: jar, feed, flour, grams."""
        return self.table("feed_flours")

    @property
    def readings(self) -> pd.DataFrame:
        """One row per look at a jar; ``height`` in the jar's ``height_unit``."""
        return self.table("readings")

    @property
    def temperatures(self) -> pd.DataFrame:
        """One row per temperature of a place."""
        return self.table("temperatures")

    @property
    def plan(self) -> pd.DataFrame:
        """The plan made before the trial; empty where none was made."""
        return self.table("plan")

    @property
    def changes(self) -> pd.DataFrame:
        """One row per changed row, oldest first: change, at, did, table, key, before, after, reason."""
        return changes_frame(read_changes(self.folder)[0])

    def add_culture(self, *, culture: str, **columns: object) -> None:
        """Add a culture; ``columns`` as in cultures.csv."""
        self.add({"cultures": [{"culture": culture, **columns}]})

    def add_jar(self, *, jar: str, culture: str, **columns: object) -> None:
        """Add a jar of a culture; ``columns`` as in jars.csv. Heights are in mm unless ``height_unit`` says else."""
        self.add({"jars": [{"jar": jar, "culture": culture, "height_unit": "mm", **columns}]})

    def add_feed(
        self,
        *,
        jar: str,
        feed: int,
        at: When,
        seed_g: float | None,
        water_g: float | None,
        flours_g: Mapping[str, float] | None,
        kind: str = "",
        **columns: object,
    ) -> None:
        """Add a feed with its flours; grams nobody wrote down are None.

        Without ``kind`` feed 0 is the last before the cold, 1, 2, ... are recovery feeds, those below 0 baseline.
        """
        if flours_g is not None and not flours_g:
            message = (
                "flours_g is empty; a feed needs flour. Give each flour's grams, or None where nobody wrote them down."
            )
            raise ValueError(message)
        row = {
            "jar": jar,
            "feed": feed,
            "kind": kind or usual_kind(feed),
            "at": at,
            "seed_g": seed_g,
            "water_g": water_g,
            **columns,
        }
        flours = [{"jar": jar, "feed": feed, "flour": flour, "grams": g} for flour, g in (flours_g or {}).items()]
        self.add({"feeds": [row], "feed_flours": flours})

    def add_reading(self, *, jar: str, feed: int, at: When, height: float | None = None, **columns: object) -> None:
        """Add a look at a jar; ``columns`` as in readings.csv."""
        self.add({"readings": [{"jar": jar, "feed": feed, "at": at, "height": height, **columns}]})

    def add_temperatures(self, rows: pd.DataFrame | Sequence[Mapping[str, object]]) -> None:
        """Add temperatures of places, many at once: place, at, temp_c."""
        listed = rows.to_dict("records") if isinstance(rows, pd.DataFrame) else rows
        self.add({"temperatures": [{str(name): value for name, value in row.items()} for row in listed]})

    def declare_flour(self, *, flour: str, holds: str) -> None:
        """Let this experiment know a flour beside the usual ones: its name (small letters, digits, _) and what it is."""
        change = f"{flour}: {holds}"
        self._mend(lambda: declare(self._store, flour=flour, holds=holds), did="declare flour", reason=change)

    def add(self, rows: Mapping[str, Sequence[Mapping[str, object]]]) -> None:
        """Add rows to several tables as one change; one problem refuses them all and leaves the disk as it was."""
        batch: Batch = {name: [text_row(table_named(name), row) for row in given] for name, given in rows.items()}
        self._store.refresh()
        self._may_change()
        refuse(judge(self._store, batch))
        with locked(self.folder):
            if self._store.refresh_locked():
                refuse(judge(self._store, batch))
            edits = [appended(self._store.tables[name], given) for name, given in batch.items() if given]
            commit(self.folder, [*edits, behind(self.folder, change_line(did="add", rows=made_rows(batch)))])

    def judge(self, batch: Batch, *, numbers: Mapping[str, Sequence[int]]) -> list[Problem]:
        """Return everything ``add`` would refuse in these rows of text, each with its number; nothing is written."""
        self._store.refresh()
        return [*self._store.package_problems, *judge(self._store, batch, numbers=numbers)]

    def withdraw(self, table: str, key: Key, reason: str) -> None:
        """Let a row no longer count, with the reason; it stays in the file, and its key stays taken.

        ``key`` is the table's key: a text, a tuple in the key's order (``("J1", 2)``), or a dictionary.
        """
        self._mend(lambda: withdraw(self._store, table=table, key=key, reason=reason), did="withdraw", reason=reason)

    def restore(self, table: str, key: Key) -> None:
        """Let a withdrawn row count again."""
        self._mend(lambda: restore(self._store, table=table, key=key), did="restore")

    def correct(self, table: str, key: Key, *, reason: str = "", **columns: object) -> None:
        """Write other cells into a row; what they were stays in changes.jsonl."""
        self._mend(lambda: correct(self._store, table=table, key=key, columns=columns), did="correct", reason=reason)

    def undo(self) -> None:
        """Take the last change back; done again, the one before it. The rows stay in changes.jsonl."""
        self._mend(lambda: undo(self._store), did="undo")

    def _mend(self, mended: Callable[[], Mended], *, did: str, reason: str = "") -> None:
        self._store.refresh()
        self._may_change()
        mended()
        with locked(self.folder):
            self._store.refresh_locked()
            done = mended()
            line = change_line(did=did, rows=done.rows, reason=reason, undoes=done.undoes)
            commit(self.folder, [*done.edits, behind(self.folder, line)])

    def _may_change(self) -> None:
        refuse(self._store.package_problems)
