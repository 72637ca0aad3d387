"""The one-jar record: made by what a baker does, sound as an experiment, and adding up over years of holidays."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from frictionless import validate
from tests.records.one_jar_years import KITCHEN_C, START, at_home, fed, holiday, three_years

from fallow.records import one_jar
from fallow.records.experiment import Experiment
from fallow.records.one_jar import Stage, begun, found, standing
from fallow.records.one_jar_log import (
    Ending,
    last_entry,
    log_ending,
    log_last_feed,
    log_look,
    log_ordinary_feed,
    log_out,
    log_put_away,
    log_recovery_feed,
)
from fallow.stats.cold import fit_cold
from fallow.stats.learning import forecast, learn
from fallow.stats.ledger_forecast import Schedule
from fallow.stats.outcomes import left_out, outcomes


def on_disk(record):
    return {path.name: path.read_bytes() for path in record.folder.iterdir() if path.is_file()}


@pytest.fixture
def record(tmp_path):
    return begun(tmp_path, time_zone="Europe/Berlin")


@pytest.fixture(scope="module")
def years(tmp_path_factory):
    return three_years(tmp_path_factory.mktemp("years"))


def test_the_record_is_a_sound_experiment_and_a_sound_data_package(years):
    assert years.check() == []
    report = validate(str(years.folder / "datapackage.json"))
    assert report.valid, report.to_summary()
    assert standing(years).stage is Stage.AT_HOME


def test_each_holiday_counts_as_the_kitchen_made_it(years):
    table = outcomes(years).set_index("jar")
    assert table["feeds_to_recovery"].tolist() == [2.0, 2.0, 1.0]
    assert table["recovered"].all()
    # Debts as the kitchen had them, within half a doubling: looks come once an hour.
    fit = fit_cold(years)
    first = fit.feeds[fit.feeds["feed"] == 1]["owed_doublings"].to_numpy()
    np.testing.assert_allclose(first, [1.6, 2.4, 0.0], atol=0.5)
    assert fit.only_differences == ()
    held = table["days_held"].tolist()
    assert held == pytest.approx([14 - 5 / 24, 28 - 5 / 24, 5 - 5 / 24], abs=0.01)


def test_years_of_holidays_add_up_to_evidence(years):
    fit = fit_cold(years)
    learned = learn(years, fit=fit, outcomes=outcomes(years, fit=fit), culture=one_jar.CULTURE)
    assert learned.jars == 3
    schedule = Schedule(days_held=14, hold_temp_c=3.3, dilution=5, place_temp_c=KITCHEN_C)
    table = forecast(schedule, learned=learned)
    assert (table["both"] - table["prior"]).abs().max() > 0.005
    assert table["guess"].iloc[0] == ""
    assert (
        "a guess"
        in forecast(Schedule(days_held=90, hold_temp_c=3.3, dilution=5, place_temp_c=24), learned=learned)[
            "guess"
        ].iloc[0]
    )


def test_without_ordinary_feeds_a_holiday_is_kept_and_the_reason_it_does_not_count_yet_is_said(record):
    holiday(record, at=START, days=14, debts=(1.6, 0.0))
    assert len(outcomes(record)) == 0
    assert "fewer than 3 baseline feeds" in left_out(record)["why"].iloc[0]
    at_home(record, at=START + timedelta(days=30))
    assert outcomes(record)["feeds_to_recovery"].tolist() == [2.0]


def test_the_open_jar_is_found_again_at_every_stage(record):
    steps = [
        (Stage.FED, lambda: log_last_feed(record, fed(START))),
        (Stage.COLD, lambda: log_put_away(record, at=START + timedelta(hours=3), place="door", temp_c=5.2)),
        (Stage.BACK, lambda: log_out(record, at=START + timedelta(days=9))),
        (Stage.BACK, lambda: log_recovery_feed(record, fed(START + timedelta(days=9)))),
        (Stage.AT_HOME, lambda: log_ending(record, ending=Ending.DONE)),
    ]
    for stage, step in steps:
        step()
        again = found(record.folder.parent)
        assert again is not None
        assert standing(again).stage is stage
    assert record.jars["hold_place"].tolist() == ["door"]


def test_two_holidays_on_one_day_are_two_jars(record):
    for _ in range(2):
        log_last_feed(record, fed(START))
        log_ending(record, ending=Ending.LOST)
    assert record.jars["jar"].tolist() == ["2026-05-01", "2026-05-01 (2)"]


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (lambda r: log_last_feed(r, fed(START)), "jar 2026-05-01 is still open; one holiday is kept at a time."),
        (lambda r: log_out(r, at=START), "the jar is fed, not yet in the cold; only a jar that is in the cold"),
        (lambda r: log_recovery_feed(r, fed(START)), "feeds after the cold are counted once the jar is out"),
        (
            lambda r: log_put_away(r, at=START - timedelta(hours=1), place="door", temp_c=5.2),
            "in the cold: 01 May 07:00 is before the last feed, 01 May 08:00; time goes one way.",
        ),
        (lambda r: log_look(r, at=START - timedelta(hours=1), height=40), "is before its feed"),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(record, act, said):
    log_last_feed(record, fed(START))
    before = on_disk(record)
    with pytest.raises(ValueError, match=r"(?s).*") as refused:
        act(record)
    assert said in str(refused.value)
    assert on_disk(record) == before


def test_nothing_to_look_at_and_nothing_to_close_are_said(record):
    with pytest.raises(ValueError, match="there is no feed to look at yet"):
        log_look(record, at=START, height=40)
    with pytest.raises(ValueError, match="no jar is open; there is nothing to close"):
        log_ending(record, ending=Ending.DONE)


def test_coming_out_before_going_in_is_refused(record):
    log_last_feed(record, fed(START))
    log_put_away(record, at=START + timedelta(hours=3), place="door", temp_c=5.2)
    with pytest.raises(ValueError, match=r"out of the fridge: .* is before it went in"):
        log_out(record, at=START + timedelta(hours=2))
    assert standing(record).stage is Stage.COLD


def test_a_taken_name_is_left_alone_and_the_next_free_one_is_used(tmp_path):
    (tmp_path / "my-starter").mkdir()
    (tmp_path / "my-starter" / "notes.txt").write_text("mine", encoding="utf-8")
    Experiment.create(tmp_path / "my-starter-2", title="Other", question="Another question?")
    assert found(tmp_path) is None
    made = begun(tmp_path, time_zone="UTC")
    assert made.folder.name == "my-starter-3"
    assert begun(tmp_path, time_zone="UTC").folder == made.folder
    assert [path.name for path in (tmp_path / "my-starter").iterdir()] == ["notes.txt"]


def test_a_record_that_is_damaged_is_named_and_no_second_one_is_begun(record):
    log_last_feed(record, fed(START))
    feeds = record.folder / "feeds.csv"
    feeds.write_text(feeds.read_text(encoding="utf-8").replace(",20,", ",twenty,"), encoding="utf-8")
    with pytest.raises(ValueError, match="twenty"):
        found(record.folder.parent)
    with pytest.raises(ValueError, match="twenty"):
        begun(record.folder.parent, time_zone="UTC")
    assert [path.name for path in record.folder.parent.iterdir()] == ["my-starter"]


def test_a_feed_that_was_withdrawn_keeps_its_number(record):
    log_ordinary_feed(record, fed(START))
    record.withdraw("feeds", (one_jar.IN_FORM_JAR, 1), "spilt")
    log_ordinary_feed(record, fed(START + timedelta(days=1)))
    assert record.feeds["feed"].tolist() == [2]
    assert record.check() == []


def test_the_last_entry_is_named_before_it_is_taken_back(record):
    steps = [
        (lambda: log_last_feed(record, fed(START)), "the last feed"),
        (lambda: log_look(record, at=START, height=40), "the look at 08:00"),
        (lambda: log_put_away(record, at=START + timedelta(hours=3), place="door", temp_c=5.2), "into the fridge"),
        (lambda: log_out(record, at=START + timedelta(days=9)), "out of the fridge"),
        (lambda: log_recovery_feed(record, fed(START + timedelta(days=9))), "feed 1"),
        (lambda: log_ending(record, ending=Ending.DONE), "the end of the holiday"),
    ]
    assert last_entry(record) == ""
    for step, _ in steps:
        step()
    for _, said in reversed(steps):
        assert last_entry(record) == said
        record.undo()
    assert last_entry(record) == ""
    assert record.check() == []
    assert standing(record).stage is Stage.AT_HOME
