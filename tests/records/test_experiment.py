"""What an experiment gives and takes: types that stay, rows that are withdrawn, corrected, taken back, and told."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fallow.records.experiment import Experiment
from fallow.records.package import RecoveryRule

Bytes = Callable[[Path], dict[str, bytes]]
FEED_2 = {"jar": "007", "feed": 2, "at": "2026-03-30T07:40:00+02:00", "seed_g": 10, "water_g": 40}


def test_a_new_experiment_says_what_it_was_told(tmp_path: Path) -> None:
    rule = RecoveryRule(owed_at_most_doublings=0.4, rise_at_least_fraction=0.8, feeds_in_a_row=2)
    Experiment.create(
        tmp_path / "é x",
        title=" Åse's trial ",
        question="Why?",
        time_zone="Asia/Kolkata",
        rule=rule,
        flours={"t65": "T65"},
    )
    record = Experiment.open(tmp_path / "é x")
    assert (record.title, record.question, record.time_zone, record.rule) == (
        "Åse's trial",
        "Why?",
        "Asia/Kolkata",
        rule,
    )
    assert (record.licence, record.invented, dict(record.declared_flours)) == ("CC0-1.0", False, {"t65": "T65"})
    assert record.check() == []
    assert [len(record.table(name)) for name in ("cultures", "jars", "feeds", "feed_flours", "readings", "plan")] == [
        0
    ] * 6
    assert record.feeds["at"].dtype == record.readings["at"].dtype == "datetime64[us, UTC]"


def test_create_refuses_a_folder_that_holds_something_and_a_zone_that_is_none(tmp_path: Path) -> None:
    (tmp_path / "note.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(ValueError, match=r"holds something already"):
        Experiment.create(tmp_path, title="t", question="q")
    with pytest.raises(ValueError, match=r"^time_zone is 'CET\+1'; it must be an IANA name"):
        Experiment.create(tmp_path / "x", title="t", question="q", time_zone="CET+1")
    assert [path.name for path in tmp_path.iterdir()] == ["note.txt"]


def test_text_stays_text_and_numbers_are_numbers(small: Experiment) -> None:
    assert small.jars[["jar", "treatment"]].to_numpy().tolist() == [["007", "NA"]]
    assert small.jars["jar"].dtype == "str"
    assert small.feeds["feed"].dtype == small.readings["feed"].dtype == np.int64
    assert small.readings["height"].tolist() == [40, 62.5, 41, 80.5]
    assert small.readings["ph"].isna().all()
    assert small.readings["ph"].dtype == np.float64


def test_instants_are_utc_and_the_typed_offset_stands_beside_them(small: Experiment) -> None:
    fed = small.feeds.set_index("feed")
    assert fed.loc[1, "at"] == pd.Timestamp("2026-03-29T05:40:00.123456Z")
    assert fed.loc[1, "at_text"] == "2026-03-29T07:40:00.123456+02:00"
    # the hold crosses the night of 2026-03-29, when Oslo loses an hour (zoneinfo agrees below)
    wall = datetime(2026, 3, 29, 7, 40) - datetime(2026, 3, 1, 20, 0)
    oslo = ZoneInfo("Europe/Oslo")
    instants = datetime(2026, 3, 29, 7, 40, tzinfo=oslo).timestamp() - datetime(2026, 3, 1, 20, tzinfo=oslo).timestamp()
    hours = (fed.loc[1, "at"] - fed.loc[0, "at"]).total_seconds() / 3600
    assert hours == pytest.approx(instants / 3600, abs=1 / 60)
    assert hours == pytest.approx(wall.total_seconds() / 3600 - 1, abs=1 / 60)


def test_each_flour_stands_beside_its_feed(small: Experiment) -> None:
    wide = small.feeds
    assert wide[["bread_g", "rye_g", "flour_g", "dilution"]].to_numpy().tolist() == [
        [80, 20, 100, 11],
        [100, 0, 100, 11],
    ]
    small.add_feed(**{**FEED_2, "seed_g": None, "water_g": None}, flours_g=None)
    assert small.feeds.iloc[2][["seed_g", "bread_g", "flour_g", "dilution"]].isna().all()
    assert small.check() == []


@pytest.mark.parametrize(("feed", "kind"), [(0, "last"), (1, "recovery")])
def test_a_feed_s_kind_follows_its_number(small: Experiment, feed: int, kind: str) -> None:
    assert small.feeds.set_index("feed").loc[feed, "kind"] == kind


def test_a_withdrawn_feed_takes_its_readings_and_flours_with_it_and_comes_back(small: Experiment) -> None:
    small.withdraw("feeds", ("007", 1), "the scale was off")
    assert (len(small.feeds), len(small.readings), len(small.flours)) == (1, 2, 2)
    assert len(small.table("readings", withdrawn=True)) == 4
    assert small.table("feeds", withdrawn=True)["withdrawn"].tolist()[1] == "the scale was off"
    with pytest.raises(ValueError, match=r"jar 007, feed 1 stands in feeds.csv already"):
        small.add_feed(**{**FEED_2, "feed": 1}, flours_g={"bread": 50})
    small.restore("feeds", {"jar": "007", "feed": 1})
    assert (len(small.feeds), len(small.readings)) == (2, 4)
    small.withdraw("jars", "007", "glass cracked")
    assert (len(small.jars), len(small.feeds), len(small.readings), len(small.flours)) == (0, 0, 0, 0)
    assert small.check() == []


def test_a_row_withdrawn_for_its_value_is_a_problem_no_longer(small: Experiment) -> None:
    path = small.folder / "readings.csv"
    path.write_bytes(path.read_bytes() + b"007,1,2026-03-29T13:00:00+02:00,85,,,,,,,,,77,,\n")
    assert [problem.value for problem in small.check()] == ["77"]
    with pytest.raises(ValueError, match=r"^readings.csv, row 6: temp_c is '77'"):
        _ = small.readings
    small.withdraw("readings", ("007", 1, "2026-03-29T11:00:00Z"), "typed in Fahrenheit")
    assert small.check() == []
    assert len(small.readings) == 4


@pytest.mark.parametrize(
    ("table", "key", "sentence"),
    [
        ("feeds", ("007", 9), "no row has jar 007, feed 9 in feeds.csv"),
        ("feeds", "007", "a row of feeds.csv is found by jar, feed"),
        ("feed", ("007", 1), "there is no table 'feed'.*Did you mean 'feeds'?"),
        ("feed_flours", ("007", 1, "bread"), "Withdraw the feed instead"),
        ("feeds", ("007", "one"), "it must be a whole number"),
    ],
)
def test_withdrawing_what_is_not_there_says_so(small: Experiment, table: str, key: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        small.withdraw(table, key, "no reason")


def test_a_withdrawal_needs_its_reason(small: Experiment) -> None:
    with pytest.raises(ValueError, match=r"^the reason is empty"):
        small.withdraw("jars", "007", " ")


def test_a_correction_is_told_with_what_it_was_and_when(small: Experiment) -> None:
    began = pd.Timestamp.now(tz="UTC")
    small.correct("feeds", ("007", 1), reason="read from the photograph", water_g=120, place="shelf")
    assert small.feeds["water_g"].tolist() == [100, 120]
    told = small.changes.iloc[-1]
    assert (told["did"], told["reason"], told["table"]) == ("correct", "read from the photograph", "feeds")
    assert (told["before"]["water_g"], told["after"]["water_g"], told["after"]["place"]) == ("100", "120", "shelf")
    assert "place" not in told["before"]
    assert began <= pd.Timestamp(told["at"]) <= pd.Timestamp.now(tz="UTC") + timedelta(seconds=1)


@pytest.mark.parametrize(
    ("columns", "sentence"),
    [
        ({"water_g": 0}, "water_g is '0'; it must be above 0 g"),
        ({"at": "2026-04-01T00:00:00+02:00"}, "readings.csv, row 4: at is .* lies before its feed"),
        ({"jar": "008"}, "there is no jar '008' in jars.csv"),
        ({"withdrawn": "x"}, "there is no column 'withdrawn' to fill"),
        ({"water_g": 100}, "holds that already; nothing was changed"),
    ],
)
def test_a_correction_that_breaks_the_record_is_refused(
    small: Experiment, bytes_of: Bytes, columns: dict[str, object], sentence: str
) -> None:
    before = bytes_of(small.folder)
    with pytest.raises(ValueError, match=sentence):
        small.correct("feeds", ("007", 1), **columns)
    assert bytes_of(small.folder) == before


def test_changes_are_taken_back_one_by_one_and_stay_told(small: Experiment, bytes_of: Bytes) -> None:
    tables = [f"{name}.csv" for name in ("cultures", "jars", "feeds", "feed_flours", "readings", "temperatures")]
    states = [{name: bytes_of(small.folder)[name] for name in tables}]
    steps: list[Callable[[], object]] = [
        lambda: small.add_feed(**FEED_2, flours_g={"bread": 30, "rye": 20}),
        lambda: small.add_reading(jar="007", feed=2, at="2026-03-30T09:00:00+02:00", height=50, note='a, "b"\r\nc'),
        lambda: small.correct("feeds", ("007", 2), place="shelf"),
        lambda: small.withdraw("jars", "007", "cracked"),
    ]
    for step in steps:
        step()
        states.append({name: bytes_of(small.folder)[name] for name in tables})
    for state in reversed(states[:-1]):
        small.undo()
        assert {name: bytes_of(small.folder)[name] for name in tables} == state
    assert small.changes["did"].tolist()[-4:] == ["undo"] * 4
    gone = small.changes[small.changes["after"].isna() & (small.changes["table"] == "feeds")]
    assert [row["seed_g"] for row in gone["before"]] == ["10"]


def test_a_feed_that_has_readings_keeps_its_number(small: Experiment) -> None:
    with pytest.raises(ValueError, match=r"there is no feed 1 of jar '007' in feeds.csv"):
        small.correct("feeds", ("007", 1), feed=3)


def test_undo_of_a_row_edited_since_by_other_means_is_refused(small: Experiment) -> None:
    path = small.folder / "readings.csv"
    path.write_bytes(path.read_bytes().replace(b"80.5", b"81.5"))
    with pytest.raises(ValueError, match=r"^readings.csv was edited since; the last change cannot be taken back"):
        small.undo()


def test_undo_ends_where_nothing_is_left(tmp_path: Path) -> None:
    record = Experiment.create(tmp_path / "x", title="t", question="q")
    record.add_culture(culture="gull")
    record.undo()
    with pytest.raises(ValueError, match=r"^there is no change to take back"):
        record.undo()
    assert record.cultures.empty


def test_a_flour_is_known_once_it_is_declared(small: Experiment) -> None:
    with pytest.raises(ValueError, match=r"flour is 'red_wheat'; no flour of this name is known here"):
        small.add_feed(**FEED_2, flours_g={"red_wheat": 50})
    small.declare_flour(flour="red_wheat", holds="an old red wheat, stone-ground")
    small.add_feed(**FEED_2, flours_g={"red_wheat": 50})
    assert small.feeds["red_wheat_g"].tolist() == [0, 0, 50]
    assert small.check() == []


@pytest.mark.parametrize("flour", ["water", "flour", "seed", "Rye", "whole rye", ""])
def test_a_flour_s_name_can_stand_in_a_formula_and_hides_no_column(small: Experiment, flour: str) -> None:
    with pytest.raises(ValueError, match=r"^flour is "):
        small.declare_flour(flour=flour, holds="a flour")


def test_many_temperatures_are_one_change(small: Experiment) -> None:
    hours = pd.date_range("2026-03-01T20:00:00", periods=3, freq="h", tz="Europe/Oslo")
    small.add_temperatures(pd.DataFrame({"place": "fridge", "at": hours, "temp_c": [4.0, 4.5, np.float32(5)]}))
    assert small.temperatures["temp_c"].tolist() == [4, 4.5, 5]
    assert small.temperatures["at_text"].tolist()[0] == "2026-03-01T20:00:00+01:00"
    assert small.changes["change"].iloc[-1] == small.changes["change"].iloc[-3]


def test_one_wrong_row_refuses_the_whole_batch(small: Experiment, bytes_of: Bytes) -> None:
    before = bytes_of(small.folder)
    rows = [{"place": "fridge", "at": f"2026-03-0{day}T00:00:00Z", "temp_c": temp} for day, temp in ((1, 4), (2, 400))]
    with pytest.raises(ValueError, match=r"temp_c is '400'; it must be -30 to 60 °C"):
        small.add_temperatures(rows)
    assert bytes_of(small.folder) == before


def test_opening_and_checking_write_nothing(small: Experiment, bytes_of: Bytes) -> None:
    for path in (small.folder / ".fallow").iterdir():
        path.unlink()
    (small.folder / ".fallow").rmdir()
    before = bytes_of(small.folder)
    record = Experiment.open(small.folder)
    assert (record.check(), len(record.feeds)) == ([], 2)
    assert bytes_of(small.folder) == before
    assert not (small.folder / ".fallow").exists()


def test_an_open_experiment_sees_what_another_program_did(small: Experiment) -> None:
    path = small.folder / "jars.csv"
    path.write_bytes(path.read_bytes() + b"008,gull,,,,,,,,mm,,,\n")
    assert small.jars["jar"].tolist() == ["007", "008"]
    path.write_bytes(path.read_bytes().replace(b"008,gull", b"009,tern"))
    assert [str(problem) for problem in small.check()] == [
        "jars.csv, row 3: culture is 'tern'; there is no culture 'tern' in cultures.csv. Enter the culture first, or "
        "correct the name."
    ]


ANY_TEXT = st.text(st.characters(exclude_characters="\0", exclude_categories=("Cs",)), max_size=40)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(note=ANY_TEXT, height=st.floats(min_value=0, max_value=1e6), minutes=st.integers(min_value=0, max_value=10**7))
def test_what_is_typed_reads_back_the_same(small: Experiment, note: str, height: float, minutes: int) -> None:
    at = datetime.fromisoformat("2026-03-29T12:30:00.000007+02:00") + timedelta(minutes=minutes)
    known = small.table("readings", withdrawn=True)
    if (known["at"] == pd.Timestamp(at)).any():
        return
    small.add_reading(jar="007", feed=1, at=at, height=height, note=note)
    fresh = Experiment.open(small.folder).readings.iloc[-1]
    assert (fresh["note"] if note else "") == note
    assert (fresh["height"], fresh["at"]) == (height, pd.Timestamp(at))
