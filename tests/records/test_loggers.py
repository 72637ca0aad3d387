"""Logger and meter files as kitchens have them; times held against zoneinfo, degrees against NIST's conversion."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from fallow.records import log_file
from fallow.records.experiment import Experiment
from fallow.records.log_counted import WHEN_STARTED
from fallow.records.log_file import bytes_of
from fallow.records.log_preview import LogPreview
from fallow.records.log_times import DAY_ORDER, WHICH_ZONE
from fallow.records.log_values import WHICH_UNIT
from fallow.records.loggers import add_log, add_ph_log, feeds_of_readings, look_at_log, look_at_ph_log
from fallow.records.zone import keep_time_zone

OSLO = "Europe/Oslo"
START = datetime(2026, 3, 14, 22, 40)
CELSIUS = [3.4, 3.5, 4.125, 5.0, 4.5, -0.5]


def steps(count: int, start: datetime = START, minutes: int = 10) -> list[datetime]:
    return [start + timedelta(minutes=minutes * at) for at in range(count)]


def table(rows: list[list[str]], *, delimiter: str = ",", end: str = "\n") -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(rows)
    return out.getvalue()


def plain(
    values: list[float], walls: list[datetime], header: str = "temperature °C", pattern: str = "%Y-%m-%d %H:%M:%S"
) -> str:
    return table(
        [["time", header], *([f"{wall:{pattern}}", f"{value:g}"] for wall, value in zip(walls, values, strict=True))]
    )


DIALECTS = {
    "ISO with commas": ({"pattern": "%Y-%m-%d %H:%M:%S"}, ",", "."),
    "ISO with a T": ({"pattern": "%Y-%m-%dT%H:%M:%S"}, "\t", "."),
    "slashes, year first": ({"pattern": "%Y/%m/%d %H:%M"}, ";", ","),
    "day first, dots": ({"pattern": "%d.%m.%Y %H:%M"}, ";", ","),
    "day first, slashes, short year": ({"pattern": "%d/%m/%y %H:%M:%S"}, ";", "."),
    "month first, half days": ({"pattern": "%m/%d/%Y %I:%M:%S %p"}, ",", "."),
    "month first, short year, half days": ({"pattern": "%m/%d/%y %I:%M %p"}, "\t", "."),
    "named month": ({"pattern": "%d-%b-%Y %H:%M"}, "|", ","),
    "named month first": ({"pattern": "%b %d, %Y %H:%M"}, ";", ","),
    "spaces, date and clock apart": ({"pattern": "%Y-%m-%d %H:%M"}, " ", "."),
    "decimal commas in quotes": ({"pattern": "%Y-%m-%d %H:%M"}, ",", ","),
}


@pytest.mark.parametrize("dialect", DIALECTS)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_any_dialect_is_read_to_the_same_instants_and_degrees(dialect: str, end: str) -> None:
    shape, delimiter, mark = DIALECTS[dialect]
    walls = steps(len(CELSIUS))
    cells = [
        [*f"{wall:{shape['pattern']}}".split(" ", 1 if delimiter == " " else 0), f"{v:g}".replace(".", mark)]
        for wall, v in zip(walls, CELSIUS, strict=True)
    ]
    if delimiter != " ":
        cells = [[" ".join(row[:-1]), row[-1]] for row in cells]
    header = ["date", "time", "temp"] if delimiter == " " else ["when", "temp"]
    seen = look_at_log(table([header, *cells], delimiter=delimiter, end=end), time_zone=OSLO)
    assert (seen.questions, seen.left_out, seen.gaps) == ((), (), ())
    assert seen.rows["value"].tolist() == CELSIUS
    expected = [wall.replace(tzinfo=ZoneInfo(OSLO)).astimezone(UTC) for wall in walls]
    assert [one.to_pydatetime() for one in seen.rows["at"]] == expected
    assert seen.step_minutes == 10


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_every_usual_encoding_is_read(encoding: str) -> None:
    text = "Gerät;Küche\r\n\r\nZeit;Temp °C\r\n14.03.2026 22:40;3,4\r\n14.03.2026 22:50;3,5\r\n"
    seen = look_at_log(text.encode(encoding), time_zone=OSLO)
    assert seen.rows["value"].tolist() == [3.4, 3.5]
    assert seen.columns.value == "Temp °C"
    assert ("Windows-1252" in " ".join(seen.said)) == (encoding == "cp1252")


JUNK = """Serial,0012345
Name,galley fridge
Interval,10 min
Logger started,2026-03-14 20:00

No.,Date,Time,Humidity,Probe,Battery
,,,%RH,°F,V
1,14/03/2026,22:40:00,55,38.3,2.9
2,14/03/2026,22:50:00,56,38.2,2.9

3,14/03/2026,23:00:00,56,ERR,2.9
4,14/03/2026,23:10:00,56,,2.9
5,32/03/2026,23:20:00,56,38.0,2.9
6,14/03/2026,23:30:00,56,999.9,2.9
7,14/03/2026,23:30:00,56,38.1,2.9
8,14/03/2026,23:40:00,56,38.1,2.9
9,14/03/2026,23:40:00,56,38.1,2.9
10,14/03/2026,23:50:00,56,38.1,2.9
11,14/03/2026,23:50:00,56,38.9,2.9
12,15/03/2026,02:10:00,56,38.1,2.9
End of log
"""


def test_junk_is_passed_over_and_each_row_left_out_is_named_with_its_reason() -> None:
    seen = look_at_log(JUNK, file="fridge.csv", time_zone=OSLO)
    assert (seen.columns.time, seen.columns.clock, seen.columns.value) == ("Date", "Time", "Probe °F")
    assert [(one.row, one.rule) for one in seen.left_out] == [
        (11, "it is no temperature"),
        (12, "there is no temperature in the row"),
        (13, "there is no such day"),
        (14, "it must be -30 to 60 °C"),
        (17, "this instant stands twice with the same reading"),
        (18, "this instant stands twice with other readings"),
        (19, "this instant stands twice with other readings"),
        (21, "it is no date with a time"),
    ]
    assert str(seen.left_out[0]).startswith("fridge.csv, row 11: Probe °F is 'ERR'; it is no temperature.")
    assert seen.rows["row"].tolist() == [8, 9, 15, 16, 20]
    assert [(gap.start, gap.end, round(gap.hours, 2)) for gap in seen.gaps] == [
        ("2026-03-14T23:40:00+01:00", "2026-03-15T02:10:00+01:00", 2.5)
    ]


# NIST Special Publication 811, appendix B: t/°C = (t/°F - 32)/1.8. The pairs are the fixed points everybody can check.
@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32.0, 0.0), (39.2, 4.0), (77.0, 25.0), (-4.0, -20.0), (98.6, 37.0)]
)
@pytest.mark.parametrize("said_by", ["header", "cell", "lines above", "reader"])
def test_fahrenheit_is_noticed_said_and_converted_once(fahrenheit: float, celsius: float, said_by: str) -> None:
    header = "temp (°F)" if said_by == "header" else "temp"
    cell = f"{fahrenheit:g} °F" if said_by == "cell" else f"{fahrenheit:g}"
    above = "Units: Fahrenheit\n\n" if said_by == "lines above" else ""
    text = f"{above}time,{header}\n2026-03-14 22:40,{cell}\n2026-03-14 22:50,{cell}\n"
    given_unit = {"fahrenheit": True} if said_by == "reader" else {}
    seen = look_at_log(text, time_zone=OSLO, **given_unit)
    assert seen.questions == ()
    assert seen.rows["value"].tolist() == pytest.approx([celsius, celsius], abs=5e-4)
    assert sum("are °F" in one and "converted once" in one for one in seen.said) == 1


@pytest.mark.parametrize(
    ("values", "header", "fahrenheit"),
    [
        ([68.0, 70.0, 72.0], "temp", True),
        ([3.0, 4.0, 21.0], "temp", False),
        ([36.0, 38.0, 40.0], "temp", None),
        ([36.0, 38.0, 40.0], "temp °C", False),
        ([68.0, 70.0, 72.0], "temp °C", None),
        ([3.0, 4.0, 21.0], "temp °F", True),
    ],
)
def test_a_unit_nothing_tells_is_asked_for(values: list[float], header: str, fahrenheit: bool | None) -> None:
    seen = look_at_log(plain(values, steps(3), header), time_zone=OSLO)
    assert seen.questions == ((WHICH_UNIT,) if fahrenheit is None else ())
    if fahrenheit is not None:
        assert seen.rows["value"].iloc[0] == pytest.approx(
            (values[0] - 32) / 1.8 if fahrenheit else values[0], abs=5e-4
        )


def test_an_open_order_of_day_and_month_is_asked_unless_days_or_steps_settle_it() -> None:
    one_day = [f"03/04/2026 {hour:02d}:00,4.0\n" for hour in range(5)]
    asked = look_at_log("time,temp\n" + "".join(one_day), time_zone=OSLO)
    assert asked.questions == (DAY_ORDER,)
    for day_first, month in ((True, 4), (False, 3)):
        told = look_at_log("time,temp\n" + "".join(one_day), time_zone=OSLO, day_first=day_first)
        assert told.questions == ()
        assert told.rows["at"].dt.month.unique().tolist() == [month]
    over_night = "".join(f"{wall:%d/%m/%Y %H:%M},4.0\n" for wall in steps(12, datetime(2026, 4, 3, 23)))
    settled = look_at_log("time,temp\n" + over_night, time_zone=OSLO)
    assert settled.questions == ()
    assert settled.rows["at"].dt.month.unique().tolist() == [4]
    assert any("jump by weeks" in one for one in settled.said)


def test_times_without_an_offset_need_a_zone_and_times_with_one_keep_it() -> None:
    assert look_at_log("time,temp\n2026-03-14 22:40,4\n2026-03-14 22:50,4\n").questions == (WHICH_ZONE,)
    seen = look_at_log("time,temp\n2026-03-14 22:40+0530,4\n2026-03-14T17:20:00Z,4\n", time_zone="America/New_York")
    assert seen.questions == ()
    assert seen.rows["at_text"].tolist() == ["2026-03-14T22:40:00+05:30", "2026-03-14T17:20:00+00:00"]
    with pytest.raises(ValueError, match=r"^time_zone is 'Mars/North'"):
        look_at_log("time,temp\n2026-03-14 22:40,4\n", time_zone="Mars/North")


@pytest.mark.parametrize(
    ("name", "utc_hour"),
    [
        ("Date Time, GMT-05:00", 3),
        ("timestamp_utc", 22),
        ("Time (UTC+01:00)", 21),
        ("when, GMT +2", 20),
        ("UTC+0530", 16.5),
    ],
)
def test_an_offset_in_the_column_s_name_is_the_clock_s(name: str, utc_hour: float) -> None:
    text = table([[name, "temp"], ["03/14/26 10:30:00 PM", "4"], ["03/14/26 11:30:00 PM", "4"]])
    seen = look_at_log(text)
    assert seen.questions == ()
    hour = seen.rows["at"].iloc[0]
    assert (hour.hour + hour.minute / 60 - 0.5) % 24 == utc_hour
    assert any("as the name of their column says" in one for one in seen.said)


def through_the_change(time_zone: str, start: datetime, hours: int) -> tuple[list[datetime], list[datetime]]:
    """What a clock that follows the zone shows every ten minutes, and the instants, by zoneinfo."""
    first = start.replace(tzinfo=ZoneInfo(time_zone)).astimezone(UTC)
    instants = [first + timedelta(minutes=10 * at) for at in range(6 * hours)]
    return [one.astimezone(ZoneInfo(time_zone)).replace(tzinfo=None) for one in instants], instants


@pytest.mark.parametrize(
    ("time_zone", "start"),
    [
        ("Europe/Berlin", datetime(2024, 10, 26, 20)),
        ("America/New_York", datetime(2024, 11, 2, 20)),
        ("Europe/Dublin", datetime(2024, 10, 26, 20)),
        ("Australia/Lord_Howe", datetime(2024, 4, 6, 20)),
        ("Europe/Berlin", datetime(2024, 3, 30, 20)),
        ("America/New_York", datetime(2024, 3, 9, 20)),
        ("Asia/Kolkata", datetime(2024, 3, 30, 20)),
    ],
)
@pytest.mark.parametrize("newest_first", [False, True])
def test_a_log_through_a_clock_change_has_its_true_instants(
    time_zone: str, start: datetime, newest_first: bool
) -> None:
    walls, instants = through_the_change(time_zone, start, 12)
    order = slice(None, None, -1 if newest_first else 1)
    seen = look_at_log(plain([4.0] * len(walls), walls[order]), time_zone=time_zone)
    assert [one.to_pydatetime() for one in seen.rows["at"]] == instants
    assert (seen.left_out, seen.gaps, seen.questions) == ((), (), ())
    assert [datetime.fromisoformat(text) for text in seen.rows["at_text"]] == instants


def test_a_log_that_begins_or_ends_inside_the_doubled_hour_is_told_by_its_neighbours() -> None:
    walls, instants = through_the_change("Europe/Berlin", datetime(2024, 10, 26, 20), 12)
    first_time = walls.index(datetime(2024, 10, 27, 2, 30))
    for part in (slice(0, first_time + 1), slice(first_time + 6, None)):
        seen = look_at_log(plain([4.0] * len(walls[part]), walls[part]), time_zone="Europe/Berlin")
        assert [one.to_pydatetime() for one in seen.rows["at"]] == instants[part]


def test_a_clock_without_summer_time_is_found_out_and_can_be_said() -> None:
    for start in (datetime(2024, 10, 26, 20), datetime(2024, 3, 30, 20)):
        walls = steps(72, start)
        seen = look_at_log(plain([4.0] * 72, walls), time_zone="Europe/Berlin")
        assert [one.row for one in seen.left_out] == [at + 2 for at, wall in enumerate(walls) if wall.hour == 2]
        assert all("Etc/GMT-1" in one.rule for one in seen.left_out)
        fixed = look_at_log(plain([4.0] * 72, walls), time_zone="Etc/GMT-1")
        assert fixed.left_out == ()
        assert fixed.rows["at"].tolist() == [pd.Timestamp(wall, tz="UTC") - timedelta(hours=1) for wall in walls]


def test_seconds_since_1970_are_instants_already() -> None:
    for factor in (1, 1000):
        stamp = 1_773_524_400
        seen = look_at_log(f"ts,temp\n{stamp * factor},4\n{(stamp + 600) * factor},4.5\n", time_zone=OSLO)
        assert seen.questions == ()
        assert seen.rows["at"].iloc[0] == datetime.fromtimestamp(stamp, UTC)
        assert seen.rows["at_text"].iloc[1] == "2026-03-14T22:50:00+01:00"


def test_decimal_commas_between_commas_are_refused_and_never_cut() -> None:
    for text in (
        "time,temp\n2026-03-14 22:40,3,4\n2026-03-14 22:50,3,5\n",
        "2026-03-14 22:40,3,4\n2026-03-14 22:50,3,5\n",
    ):
        with pytest.raises(ValueError, match=r"cannot be told apart. Save it with semicolons"):
            look_at_log(text, time_zone=OSLO)


def test_a_file_without_a_header_is_read_by_its_cells() -> None:
    seen = look_at_log("2026-03-14 22:40;3,4\n2026-03-14 22:50;3,5\n", time_zone=OSLO)
    assert seen.names == ("column 1", "column 2")
    assert seen.rows["value"].tolist() == [3.4, 3.5]


def test_a_column_can_be_chosen_and_an_unknown_one_is_refused() -> None:
    text = "time,inside °C,outside °C\n2026-03-14 22:40,4,20\n2026-03-14 22:50,4,20\n"
    seen = look_at_log(text, time_zone=OSLO)
    assert (seen.columns.value, seen.columns.others) == ("inside °C", ("outside °C",))
    assert look_at_log(text, time_zone=OSLO, value_column="outside °C").rows["value"].tolist() == [20, 20]
    with pytest.raises(ValueError, match=r"there is no column 'middle' in the log; it has time, inside °C, outside °C"):
        look_at_log(text, time_zone=OSLO, value_column="middle")


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "has no row with a time and a number"),
        (b"\0\0\0", "NUL characters"),
        (b"<html><body>log</body></html>", "has no row with a time and a number"),
        (b'time,temp\n"2026-03-14 22:40,4\n', "a quotation mark may not be closed"),
        (b"PK\x03\x04" + bytes(range(256)), "NUL characters"),
        (b"time,humidity\n2026-03-14 22:40,55\n2026-03-14 22:50,55\n", "no column that looks like temperature"),
        (b"name,temp\nkitchen,4\nfridge,5\n", "has no row with a time and a number"),
    ],
)
def test_what_is_no_log_is_refused_in_a_sentence(data: bytes, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        look_at_log(data, file="x.csv", time_zone=OSLO)


def test_a_file_of_many_years_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(log_file, "LARGEST_BYTES", 2_000_000)
    (tmp_path / "years.csv").write_bytes(bytes(2_000_001))
    for act in (lambda: bytes_of(tmp_path / "years.csv"), lambda: look_at_log("x" * 2_000_001, file="years.csv")):
        with pytest.raises(ValueError, match=r"^years.csv is larger than 2 MB; that is years of readings at once"):
            act()


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"cannot be read \(No such file"):
        bytes_of(tmp_path / "none.csv")
    with pytest.raises(ValueError, match="cannot be read"):
        bytes_of(tmp_path)
    (tmp_path / "a log.csv").write_bytes(b"x")
    # a path copied on Windows comes in quotation marks
    assert bytes_of(f' "{tmp_path}/a log.csv" ') == b"x"


ODD = [
    "2026-03-14 22:40", "14/03/26", "22:40", "3,4", "38 °F", "4.1", "", "-", "NaN", "1e400", "9" * 400, "9" * 308, "-" + "9" * 308,
    "٤٢", "temp", "time", "0", "1", "2", '"', "\u202e", "31/02/2026 10:00", "99:99", "Mar 31, 2026 25:61",
]  # fmt: skip
TEXTS = st.lists(st.one_of(st.text(max_size=12), st.sampled_from(ODD)), max_size=6)


def looked_at(text: str, *, ph: bool) -> LogPreview | str:
    """Return the preview, or the sentence of the refusal."""
    try:
        return (look_at_ph_log if ph else look_at_log)(text, time_zone=OSLO)
    except ValueError as error:
        return str(error)


@settings(max_examples=250, suppress_health_check=list(HealthCheck))
@given(st.lists(TEXTS, max_size=8), st.sampled_from([",", ";", "\t", "|", " "]), st.booleans())
@example([["", "2026-03-14 22:40", "9" * 400], ["", "", "9" * 400]], ",", False)
@example([["2026-03-14 22:40", "-" + "9" * 308], ["2026-03-14 22:50", "9" * 308]], ",", False)
@example([["time", "temp"], ["1", "4"], ["9" * 400, "5"]], ",", False)
@example([["2026-03-14 22:40", "9" * 400], ["2026-03-14 22:50", "4"]], ";", True)
def test_no_file_ends_in_anything_but_a_preview_or_a_sentence(rows: list[list[str]], delimiter: str, ph: bool) -> None:
    text = "\n".join(delimiter.join(row) for row in rows)
    seen = looked_at(text, ph=ph)
    if isinstance(seen, str):
        assert seen.endswith(".")
        assert len(seen) < 3000
        return
    assert seen.questions or seen.rows["value"].between(seen.quantity.low, seen.quantity.high).all()
    assert seen.rows["at"].is_unique
    assert seen.rows["at"].is_monotonic_increasing


@settings(max_examples=100)
@given(
    st.lists(st.one_of(st.none(), st.floats(-20, 28).map(lambda v: round(v, 2))), min_size=3, max_size=40),
    st.integers(1, 90),
)
def test_each_filled_row_is_read_and_each_empty_one_is_named(values: list[float | None], minutes: int) -> None:
    walls = steps(len(values), minutes=minutes)
    cells = [
        [f"{wall:%Y-%m-%d %H:%M}", "" if v is None else f"{v:.2f}".replace(".", ",")]
        for wall, v in zip(walls, values, strict=True)
    ]
    text = table([["when", "temp °C"], *cells], delimiter=";")
    filled = [v for v in values if v is not None]
    if not filled:
        with pytest.raises(ValueError, match="no row with a time and a number"):
            look_at_log(text, time_zone=OSLO)
        return
    seen = look_at_log(text, time_zone=OSLO)
    assert seen.rows["value"].tolist() == filled
    assert [one.row for one in seen.left_out] == [at for at, v in enumerate(values, start=2) if v is None]


def test_a_log_goes_into_the_record_once_and_again_only_what_is_new(small: Experiment) -> None:
    walls = steps(6)
    seen = look_at_log(plain(CELSIUS, walls), time_zone=OSLO)
    assert str(add_log(small, seen, place="galley fridge")) == "6 readings were added."
    found = small.temperatures
    assert found["temp_c"].tolist() == CELSIUS
    assert found["at_text"].tolist() == seen.rows["at_text"].tolist()
    assert set(found["place"]) == {"galley fridge"}
    longer = look_at_log(plain([*CELSIUS, 6.0], steps(7)), time_zone=OSLO)
    assert str(add_log(small, longer, place="galley fridge")) == "1 readings were added. 6 stood there already."
    assert str(add_log(small, longer, place="galley fridge")) == "0 readings were added. 7 stood there already."
    assert small.check() == []
    small.undo()
    assert len(small.temperatures) == 6


def test_a_log_that_contradicts_the_record_changes_nothing(
    small: Experiment, bytes_of: Callable[[Path], dict[str, bytes]]
) -> None:
    add_log(small, look_at_log(plain(CELSIUS, steps(6)), time_zone=OSLO), place="fridge")
    before = bytes_of(small.folder)
    other = look_at_log(plain([9.0, *CELSIUS[1:]], steps(6)), file="b.csv", time_zone=OSLO)
    with pytest.raises(
        ValueError, match=r"^fridge has 3.4 at 2026-03-14T22:40:00\+01:00 already, and row 2 of b.csv says 9;"
    ):
        add_log(small, other, place="fridge")
    open_question = look_at_log(plain([36.0, 38.0, 40.0], steps(3), "temp"), file="c.csv", time_zone=OSLO)
    with pytest.raises(ValueError, match=r"^c.csv cannot be added yet. Nothing says whether"):
        add_log(small, open_question, place="fridge")
    with pytest.raises(ValueError, match="place is empty"):
        add_log(small, other, place="  ")
    with pytest.raises(ValueError, match="was read for temperature; here pH is added"):
        add_ph_log(small, other, jar="007")
    assert bytes_of(small.folder) == before


def test_a_withdrawn_temperature_is_not_brought_back_by_reading_the_file_again(small: Experiment) -> None:
    seen = look_at_log(plain(CELSIUS, steps(6)), time_zone=OSLO)
    add_log(small, seen, place="fridge")
    small.withdraw("temperatures", ("fridge", seen.rows["at_text"].iloc[3]), "the door stood open")
    assert add_log(small, seen, place="fridge").already == 6
    assert len(small.temperatures) == 5


PH = """when;pH;Temp (°F)
2026-02-28 12:00;4,2;70
2026-03-01 20:30;5,9;71,6
2026-03-01 22:00;4,6;
2026-03-29 09:00;5,8;71,6
2026-03-29 10:00;10,01;71,6
2026-03-29 11:00;4,4;err
"""


def test_a_meter_s_ph_goes_to_the_feed_each_reading_follows(small: Experiment) -> None:
    seen = look_at_ph_log(PH, file="meter.csv", time_zone=OSLO)
    assert [(one.row, one.column, one.rule) for one in seen.left_out] == [
        (6, "pH", "it must be pH 1 to 9"),
        (7, "Temp (°F)", "it is no temperature"),
    ]
    belongs = feeds_of_readings(small, seen, jar="007")
    np.testing.assert_array_equal(belongs["feed"], [np.nan, 0, 0, 1])
    # fed at 20:00 on the 1st (+01:00), and at 07:40:00.123456 on the 29th (+02:00)
    np.testing.assert_allclose(belongs["hours_after"], [np.nan, 0.5, 2, 80 / 60], atol=1e-4)
    before = len(small.readings)
    done = add_ph_log(small, seen, jar="007")
    assert (done.written, done.before_any_feed) == (3, 1)
    added = small.readings.iloc[before:]
    assert added["feed"].tolist() == [0, 0, 1]
    assert added["ph"].tolist() == [5.9, 4.6, 5.8]
    np.testing.assert_allclose(added["temp_c"], [22.0, np.nan, 22.0])
    assert small.check() == []
    assert add_ph_log(small, seen, jar="007").already == 3
    with pytest.raises(ValueError, match=r"^jar is 008; it has no feed in this record"):
        add_ph_log(small, seen, jar="008")


def test_the_households_refrigerators_are_read_as_published(
    shared_data: Callable[[str], Path], small: Experiment
) -> None:
    # Jofre et al. 2019 (PROVENANCE.md beside the file): two refrigerators, degC every 10 min for 24 h.
    path = shared_data("refrigeratorSpain.csv")
    with path.open(encoding="utf-8", newline="") as stream:
        published = list(csv.DictReader(stream))
    asked = look_at_log(bytes_of(path), file=path.name, time_zone="Europe/Madrid")
    assert asked.questions == (WHEN_STARTED,)
    started = datetime(2019, 3, 30, 20, tzinfo=ZoneInfo("Europe/Madrid"))
    for name in ("A1", "A2"):
        seen = look_at_log(bytes_of(path), time_zone="Europe/Madrid", value_column=name, starts_at=started)
        assert (seen.questions, seen.left_out, seen.gaps) == ((), (), ())
        assert seen.rows["value"].tolist() == [float(row[name]) for row in published]
        assert seen.rows["at"].tolist() == [started.astimezone(UTC) + timedelta(minutes=10 * at) for at in range(145)]
        assert add_log(small, seen, place=f"household {name}").written == 145
    assert small.check() == []
    assert small.temperatures.groupby("place")["temp_c"].mean().round(3).tolist() == [
        round(float(np.mean([float(row[name]) for row in published])), 3) for name in ("A1", "A2")
    ]


def test_the_time_zone_is_asked_once_and_kept(small: Experiment) -> None:
    times = small.readings["at_text"].tolist()
    assert keep_time_zone(small, time_zone="America/New_York")
    assert not keep_time_zone(small, time_zone="America/New_York")
    again = Experiment.open(small.folder)
    assert (again.time_zone, again.check()) == ("America/New_York", [])
    assert again.readings["at_text"].tolist() == times
    with pytest.raises(ValueError, match="it must be an IANA name"):
        keep_time_zone(small, time_zone="CEST")
