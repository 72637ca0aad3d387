"""The invented trial: the same bytes everywhere, the design it claims, and a record that is sound."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, time, timedelta
from itertools import product
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from fallow.records.demo import TITLE, truth_lines, write_harbour_rota
from fallow.records.demo_design import CULTURES, HOLD_DAYS, Stream, margins, plan
from fallow.records.demo_truth import Truth, rounds, wall
from fallow.records.experiment import Experiment

FILES = ["cultures", "feed_flours", "feeds", "jars", "plan", "readings", "temperatures"]


@pytest.fixture(scope="module")
def folder(root: Path) -> Path:
    return root / "experiments" / "harbour-rota"


def test_made_again_it_is_the_same_to_the_byte(folder: Path, tmp_path: Path) -> None:
    write_harbour_rota(tmp_path)
    for name in [*(f"{file}.csv" for file in FILES), "datapackage.json", "changes.jsonl"]:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_the_record_is_sound_and_says_that_it_is_invented(folder: Path) -> None:
    trial = Experiment.open(folder)
    assert trial.check() == []
    assert trial.invented
    assert trial.title == TITLE
    assert "INVENTED" in trial.question
    assert trial.package.truth["cultures"]["fulmar"]["pace"] == Truth().cultures["fulmar"].pace


def test_the_readme_says_invented_and_carries_the_truth(folder: Path) -> None:
    readme = (folder / "README.md").read_text(encoding="utf-8")
    assert "INVENTED" in readme.splitlines()[2]
    assert "\n".join(truth_lines(truth=Truth())) in readme


def test_every_cell_once_in_four_even_blocks() -> None:
    jars = plan(draws=Stream(seed=Truth().seed))
    cells = {(j.hold_days, j.hold_temp_c, j.rye_fraction, j.place_temp_c, j.at_peak) for j in jars}
    assert cells == set(product(HOLD_DAYS, (3.0, 7.0), (0.0, 1 / 3), (21.0, 27.0), (False, True)))
    assert len(jars) == 112
    by_block = Counter(
        (j.block, name, getattr(j, name)) for j in jars for name in ("hold_days", "hold_temp_c", "at_peak")
    )
    assert {n for (_, name, _), n in by_block.items() if name == "hold_days"} == {4}
    assert {n for (_, name, _), n in by_block.items() if name != "hold_days"} == {14}


def test_cultures_are_spread_as_the_readme_says() -> None:
    seen: defaultdict[tuple[object, ...], Counter[str]] = defaultdict(Counter)
    for jar in plan(draws=Stream(seed=Truth().seed)):
        for margin in margins(jar):
            seen[margin][jar.culture] += 1
    for margin, counts in seen.items():
        numbers = [counts[name] for name in CULTURES]
        assert max(numbers) - min(numbers) <= (2 if isinstance(margin[0], str) else 3), margin


def test_looks_only_in_waking_hours(folder: Path) -> None:
    at = Experiment.open(folder).readings["at"].dt.tz_convert(ZoneInfo("Atlantic/Faroe"))
    clock = at.dt.hour + at.dt.minute / 60
    assert clock.min() >= 6
    assert clock.max() <= 22.5


def test_each_culture_has_five_feeds_in_form_and_one_jar_broke(folder: Path) -> None:
    trial = Experiment.open(folder)
    in_form = trial.feeds[trial.feeds["kind"] == "baseline"].groupby("jar").size()
    assert in_form.to_dict() == {f"{name}-home": 5 for name in CULTURES}
    assert len(trial.table("jars", withdrawn=True)) == 112 + 3
    assert len(trial.jars) == 111 + 3
    assert (trial.table("readings", withdrawn=True)["withdrawn"].notna()).sum() == 3


def test_the_cook_keeps_to_the_kitchen_clock_when_it_is_put_back() -> None:
    evening = wall(date(2025, 10, 25), time(21, 0))
    morning = wall(date(2025, 10, 26), time(9, 0))
    assert morning - evening == timedelta(hours=13)
    first = next(rounds(start=evening, end=morning, late_minutes=10))
    assert first == wall(date(2025, 10, 25), time(21, 30))


def test_another_seed_is_another_trial(tmp_path: Path, folder: Path) -> None:
    write_harbour_rota(tmp_path, truth=Truth(seed=1))
    assert (tmp_path / "readings.csv").read_bytes() != (folder / "readings.csv").read_bytes()
