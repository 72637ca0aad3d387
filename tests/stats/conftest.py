"""Small records for the tests of outcomes, made through the record's own doors."""

from __future__ import annotations

import hashlib
import math
import multiprocessing
import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from tqdm import tqdm

from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.records.experiment import Experiment

START = datetime(2026, 1, 5, 8, tzinfo=UTC)
PER_HOUR = float(GAENZLE_1998_YEAST.per_hour(temp_c=26.0)) / math.log(2)
BASELINE_RATIOS = (1, 2, 4, 8, 16)


class Kitchen:
    """One culture at 26 degC with pace 1 and c 1.4, and jars whose debts the test chooses."""

    def __init__(self, folder: Path, *, baselines: int = 5, look_hours: float = 0.1) -> None:
        self._trial = Experiment.create(folder, title="small", question="how many feeds?")
        self.rows: dict[str, list[dict[str, object]]] = {
            name: [] for name in ("cultures", "jars", "feeds", "feed_flours", "readings")
        }
        self.rows["cultures"].append({"culture": "gull"})
        self.look_hours = look_hours
        if baselines:
            self.rows["jars"].append({"jar": "home", "culture": "gull", "height_unit": "mm"})
        for number, ratio in zip(range(1, baselines + 1), BASELINE_RATIOS, strict=False):
            self.feed("home", number, at=START + timedelta(days=number), owed=0.0, ratio=ratio, kind="baseline")

    @property
    def trial(self) -> Experiment:
        """The record, with everything told so far written to it in one change."""
        self._trial.add(self.rows)
        self.rows = {name: [] for name in self.rows}
        return self._trial

    def jar(
        self,
        name: str,
        owed: Sequence[float],
        *,
        days: float = 21,
        risen: Sequence[bool] | None = None,
        last: bool = False,
    ) -> None:
        """Add a jar that was away and owes so much at each of its feeds, a day apart; ``last`` with its feed 0, ripe."""
        out = START + timedelta(days=60)
        held = {"put_away_at": out - timedelta(days=days), "out_at": out, "hold_temp_c": 4, "height_unit": "mm"}
        self.rows["jars"].append({"jar": name, "culture": "gull", "block": "1", **held})
        if last:
            self.feed(name, 0, at=out - timedelta(days=days, hours=12), owed=0.0, ratio=2, kind="last")
        for number, debt in enumerate(owed, start=1):
            full = risen is None or risen[number - 1]
            self.feed(name, number, at=out + timedelta(days=number), owed=debt, ratio=2, kind="recovery", full=full)

    def feed(self, jar: str, feed: int, *, at: datetime, owed: float, ratio: int, kind: str, full: bool = True) -> None:
        """Add one feed that peaks when the law says, with a look just before and one just after."""
        key = {"jar": jar, "feed": feed}
        grams = {"seed_g": 10, "water_g": 10 * ratio, "place": "box", "place_temp_c": 26}
        self.rows["feeds"].append({**key, "kind": kind, "at": at, **grams})
        self.rows["feed_flours"].append({**key, "flour": "white", "grams": 10 * ratio})
        self.rows["readings"].append({**key, "at": at, "height": 40})
        peak = (math.log2(1 + 2 * ratio) + 1.4 + owed) / PER_HOUR
        for hours, dome in ((peak - self.look_hours / 2, "domed"), (peak + self.look_hours / 2, "fallen")):
            look = {"at": at + timedelta(hours=hours), "height": 90 if full else 60, "dome": dome}
            self.rows["readings"].append({**key, **look})


@pytest.fixture
def kitchen(tmp_path: Path) -> Callable[..., Kitchen]:
    """Make a small record: how many baseline feeds, how far apart the looks."""
    return lambda **how: Kitchen(tmp_path / "small", **how)


@pytest.fixture(scope="session")
def harbour_rota(root: Path) -> Experiment:
    """Open the invented trial."""
    return Experiment.open(root / "experiments" / "harbour-rota")


Cells = list[dict[str, Any]]
# Run apart from the tests, which have loaded the whole library by then.
LOADED = """
import importlib, pathlib, sys
importlib.import_module(sys.argv[1])
mine = sorted(name for name in sys.modules if name.startswith("fallow."))
print(*(pathlib.Path(sys.modules[name].__file__).read_text(encoding="utf-8") for name in mine))
"""


@pytest.fixture
def cells(root: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., pd.DataFrame]:
    """Run one function over many cells, two at a time and behind everyone else's work, with a progress bar.

    Each finished cell is kept in .pytest_cache under a key of its arguments and of the text of every module of the library
    that the function loads: a long run that was stopped goes on where it was, and never with answers of another version.
    """
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "1")
    kept = root / ".pytest_cache" / "cells"
    kept.mkdir(parents=True, exist_ok=True)

    def place(run: Callable[..., pd.DataFrame], cell: dict[str, Any], text: str) -> Path:
        return kept / f"{hashlib.sha256(text.encode() + pickle.dumps((run, cell))).hexdigest()}.json"

    def table(run: Callable[..., pd.DataFrame], wanted: Cells, name: str) -> pd.DataFrame:
        text = subprocess.run(
            [sys.executable, "-c", LOADED, run.__module__], check=True, capture_output=True, text=True
        )
        places = [place(run, cell, text.stdout) for cell in wanted]
        left = [number for number, path in enumerate(places) if not path.exists()]
        spawn = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(2, mp_context=spawn, initializer=os.nice, initargs=(10,)) as pool:
            going = {pool.submit(run, **wanted[number]): places[number] for number in left}
            for done in tqdm(as_completed(going), desc=name, total=len(wanted), initial=len(wanted) - len(left)):
                half = going[done].with_suffix(".new")
                half.write_text(done.result().to_json(orient="split", double_precision=15), encoding="utf-8")
                half.replace(going[done])
        return pd.concat([pd.read_json(path, orient="split") for path in places], ignore_index=True)

    return table
