"""Saved plans are dated, never written over, and held against what the record saw."""

from __future__ import annotations

import pandas as pd
import pytest

from fallow.plans.against import honesty, plans_against_outcomes
from fallow.plans.bring_back import bring_back
from fallow.plans.saved import save_plan, saved_plans
from fallow.records.experiment import Experiment

MADE = "2026-05-15T18:00+02:00"


@pytest.fixture
def record(tmp_path):
    made = Experiment.create(tmp_path / "trial", title="T", question="Q?", time_zone="Europe/Berlin")
    made.add_culture(culture="gull", flour="bread", hydration_fraction=1.0)
    made.add_jar(jar="A1", culture="gull")
    return made


@pytest.fixture(scope="module")
def plan():
    return bring_back(
        home_at="2026-05-15T19:00+02:00", mix_at="2026-05-17T09:00+02:00", places={"kitchen": 22, "warm box": 28}
    )


def followed(record, plan, *, late_hours: float) -> None:
    """Feed as planned and look every half hour; the peak comes ``late_hours`` after the forecast hour."""
    first = plan.feeds.iloc[0]
    record.add_feed(
        jar="A1",
        feed=1,
        kind="recovery",
        at=first["at"].isoformat(),
        seed_g=first["seed_g"],
        water_g=first["water_g"],
        flours_g={"bread": first["bread_g"], "rye": first["rye_g"]},
    )
    peak = first["ripe_at"] + pd.Timedelta(hours=late_hours)
    for step in range(-4, 5):
        at = (peak + pd.Timedelta(minutes=30 * step)).floor("s")
        record.add_reading(jar="A1", feed=1, at=at.isoformat(), height=100.0 - abs(step))


def test_the_same_plan_saved_twice_is_two_files(record, plan):
    one, two = (save_plan(record, plan, jar="A1", made_at=MADE) for _ in range(2))
    assert [path.name for path in (one, two)] == ["2026-05-15-A1-1.json", "2026-05-15-A1-2.json"]
    assert one.read_text(encoding="utf-8") == two.read_text(encoding="utf-8")
    table = saved_plans(record)
    assert len(table) == 2 * len(plan.feeds)
    assert list(table["ripe_at"].iloc[: len(plan.feeds)]) == [t.tz_convert("UTC") for t in plan.feeds["ripe_at"]]
    assert record.check() == []


@pytest.mark.parametrize(("late", "off", "inside"), [(0.0, 0.0, True), (2.0, 1.5, True), (20.0, 19.5, False)])
def test_a_forecast_is_held_against_the_looks_around_the_peak(record, plan, late, off, inside):
    """The peak lies within half an hour of the highest look, so the forecast is off by that much less."""
    save_plan(record, plan, jar="A1", made_at=MADE)
    followed(record, plan, late_hours=late)
    table = plans_against_outcomes(record)
    assert len(table) == 1
    assert table["hours_off"].iloc[0] == pytest.approx(off, abs=0.01)
    assert bool(table["inside"].iloc[0]) is inside
    assert f"{int(inside)} of 1 forecast intervals held" in honesty(table)


def test_nothing_followed_is_said(record, plan):
    save_plan(record, plan, jar="A1", made_at=MADE)
    assert honesty(plans_against_outcomes(record)) == "No saved plan has been followed to a peak yet."


def test_a_jar_that_is_not_there_and_a_plan_without_feeds_are_refused(record, plan):
    with pytest.raises(ValueError, match="Add the jar first"):
        save_plan(record, plan, jar="B2", made_at=MADE)
    empty = bring_back(
        home_at="2026-05-15T19:00+02:00", mix_at="2026-05-17T09:00+02:00", places={"kitchen": 22}, flours={}
    )
    with pytest.raises(ValueError, match="no feed"):
        save_plan(record, empty, jar="A1", made_at=MADE)
    assert not (record.folder / "plans").exists()
