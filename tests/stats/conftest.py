"""Small records for the tests of outcomes, made through the record's own doors."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.records.experiment import Experiment

START = datetime(2026, 1, 5, 8, tzinfo=UTC)
PER_HOUR = float(GAENZLE_1998_YEAST.per_hour(temp_c=26.0)) / math.log(2)
BASELINE_RATIOS = (1, 2, 4, 8, 16)


class Kitchen:
    """One culture at 26 degC with pace 1 and c 1.4, and jars whose debts the test chooses."""

    def __init__(self, folder: Path, *, baselines: int = 5, look_hours: float = 0.1) -> None:
        self._trial = Experiment.create(folder, title="small", question="how many feeds?")
        self._rows: dict[str, list[dict[str, object]]] = {
            name: [] for name in ("cultures", "jars", "feeds", "feed_flours", "readings")
        }
        self._rows["cultures"].append({"culture": "gull"})
        self.look_hours = look_hours
        if baselines:
            self._rows["jars"].append({"jar": "home", "culture": "gull", "height_unit": "mm"})
        for number, ratio in zip(range(1, baselines + 1), BASELINE_RATIOS, strict=False):
            self.feed("home", number, at=START + timedelta(days=number), owed=0.0, ratio=ratio, kind="baseline")

    @property
    def trial(self) -> Experiment:
        """The record, with everything told so far written to it in one change."""
        self._trial.add(self._rows)
        self._rows = {name: [] for name in self._rows}
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
        self._rows["jars"].append({"jar": name, "culture": "gull", "block": "1", **held})
        if last:
            self.feed(name, 0, at=out - timedelta(days=days, hours=12), owed=0.0, ratio=2, kind="last")
        for number, debt in enumerate(owed, start=1):
            full = risen is None or risen[number - 1]
            self.feed(name, number, at=out + timedelta(days=number), owed=debt, ratio=2, kind="recovery", full=full)

    def feed(self, jar: str, feed: int, *, at: datetime, owed: float, ratio: int, kind: str, full: bool = True) -> None:
        """Add one feed that peaks when the law says, with a look just before and one just after."""
        key = {"jar": jar, "feed": feed}
        grams = {"seed_g": 10, "water_g": 10 * ratio, "place": "box", "place_temp_c": 26}
        self._rows["feeds"].append({**key, "kind": kind, "at": at, **grams})
        self._rows["feed_flours"].append({**key, "flour": "white", "grams": 10 * ratio})
        self._rows["readings"].append({**key, "at": at, "height": 40})
        peak = (math.log2(1 + 2 * ratio) + 1.4 + owed) / PER_HOUR
        for hours, dome in ((peak - self.look_hours / 2, "domed"), (peak + self.look_hours / 2, "fallen")):
            look = {"at": at + timedelta(hours=hours), "height": 90 if full else 60, "dome": dome}
            self._rows["readings"].append({**key, **look})


@pytest.fixture
def kitchen(tmp_path: Path) -> Callable[..., Kitchen]:
    """Make a small record: how many baseline feeds, how far apart the looks."""
    return lambda **how: Kitchen(tmp_path / "small", **how)


@pytest.fixture(scope="session")
def harbour_rota(root: Path) -> Experiment:
    """Open the invented trial."""
    return Experiment.open(root / "experiments" / "harbour-rota")
