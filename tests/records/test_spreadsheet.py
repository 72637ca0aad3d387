"""A file that a spreadsheet saved again: read back to the same values, or refused with the cell named."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from pathlib import Path

import pandas as pd
import pytest

from fallow.records.experiment import Experiment

Bytes = Callable[[Path], dict[str, bytes]]
Rows = list[list[str]]


def saved_again(
    record: Experiment,
    file: str,
    change: Callable[[Rows], Rows] = lambda rows: rows,
    *,
    delimiter: str = ",",
    end: str = "\n",
) -> Path:
    """Save a table as another program might."""
    path = record.folder / file
    text = path.read_text(encoding="utf-8")
    rows = list(csv.reader(io.StringIO(text), delimiter=";" if ";" in text.splitlines()[0] else ","))
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(change(rows))
    path.write_bytes(out.getvalue().encode("utf-8"))
    return path


def decimal_commas(rows: Rows) -> Rows:
    return [
        rows[0],
        *([cell.replace(".", ",") if cell in ("62.5", "80.5", "24.5") else cell for cell in row] for row in rows[1:]),
    ]


def reordered(rows: Rows) -> Rows:
    return [[*reversed(row)] for row in rows]


def blank_lines(rows: Rows) -> Rows:
    empty = [""] * len(rows[0])
    return [rows[0], empty, *[line for row in rows[1:] for line in (row, empty)], [], empty]


def day_first(rows: Rows) -> Rows:
    def cell(text: str) -> str:
        if not text.startswith("2026-"):
            return text
        return f"{text[8:10]}/{text[5:7]}/{text[:4]} {text[11:]}"

    return [[cell(text) for text in row] for row in rows]


def cut_to_the_minute(rows: Rows) -> Rows:
    return [[text[:16] + text[-6:] if text.startswith("2026-") else text for text in row] for row in rows]


def test_semicolons_commas_marks_blank_lines_order_and_dates_read_back_the_same(small: Experiment) -> None:
    readings, feeds = small.readings, small.feeds

    def changed(rows: Rows) -> Rows:
        return blank_lines(reordered(day_first(cut_to_the_minute(decimal_commas(rows)))))

    path = saved_again(small, "readings.csv", changed, delimiter=";", end="\r\n")
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    saved_again(small, "feeds.csv", reordered, delimiter="\t", end="\r\n")
    record = Experiment.open(small.folder)
    assert record.check() == []
    pd.testing.assert_frame_equal(record.readings, readings)
    pd.testing.assert_frame_equal(record.feeds, feeds)


def test_a_row_added_to_such_a_file_brings_it_back_to_the_house_form(small: Experiment) -> None:
    before = small.readings
    path = small.folder / "readings.csv"
    ours = path.read_bytes()
    saved_again(small, "readings.csv", lambda rows: day_first(decimal_commas(rows)), delimiter=";", end="\r\n")
    small.add_reading(jar="007", feed=1, at="2026-03-29T13:00:00+02:00", height=90.25)
    pd.testing.assert_frame_equal(small.readings.head(4), before)
    assert path.read_bytes() == ours + b"007,1,2026-03-29T13:00:00+02:00,90.25,,,,,,,,,,,\n"


def test_a_file_without_its_last_line_feed_takes_a_row(small: Experiment) -> None:
    path = small.folder / "cultures.csv"
    path.write_bytes(path.read_bytes().rstrip(b"\n"))
    small.add_culture(culture="tern")
    assert small.cultures["culture"].tolist() == ["gull", "tern"]


def stamp(small: Experiment, texts: Sequence[str]) -> None:
    """Write the four readings' times."""

    def change(rows: Rows) -> Rows:
        return [rows[0], *([*row[:2], text, *row[3:]] for row, text in zip(rows[1:], texts, strict=True))]

    saved_again(small, "readings.csv", change, delimiter=";")


DAYS = ["01/03/2026 21:00 +01:00", "01/03/2026 23:30 +01:00"]


def test_a_date_that_may_be_two_is_refused_until_it_is_settled(small: Experiment) -> None:
    readings = small.readings
    stamp(small, [*DAYS, "2026-03-29T08:40:00+02:00", "2026-03-29T12:10:00+02:00"])
    assert [(one.file, one.row, one.column, one.value) for one in small.check()] == [
        ("readings.csv", 2, "at", DAYS[0]),
        ("readings.csv", 3, "at", DAYS[1]),
    ]
    assert "the day and the month cannot be told apart" in str(small.check()[0])
    pd.testing.assert_frame_equal(Experiment.open(small.folder, day_first=True).readings, readings)
    wrong_way = Experiment.open(small.folder, day_first=False)
    assert "the reading lies before its feed" in str(wrong_way.check()[0])


def test_one_date_of_the_column_settles_the_others(small: Experiment) -> None:
    readings = small.readings
    stamp(small, [*DAYS, "29/03/2026 08:40:00+02:00", "29.3.2026 12:10 +0200"])
    pd.testing.assert_frame_equal(Experiment.open(small.folder).readings, readings)
    stamp(
        small, ["03/01/2026 21:00 +01:00", "03-01-2026 23:30 +01:00", "03/29/2026 08:40+02:00", "2026-03-29 12:10+02"]
    )
    pd.testing.assert_frame_equal(Experiment.open(small.folder).readings, readings)


def test_a_column_that_contradicts_itself_is_refused(small: Experiment) -> None:
    stamp(small, [*DAYS, "29/03/2026 08:40+02:00", "03/29/2026 12:10+02:00"])
    assert ["some dates with the day first" in str(one) for one in small.check()] == [True] * 4


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("29/03/2026 08:40", "a time must carry its offset from UTC"),
        ("2026-03-29 08:40:00", "a time must carry its offset from UTC"),
        ("2026-03-29", "a time must carry its offset from UTC"),
        ("2026-02-30T08:40:00+01:00", "there is no such day or hour"),
        ("31/04/2026 08:40+02:00", "there is no such day or hour"),
        ("2026-03-29T24:40:00+02:00", "there is no such day or hour"),
        ("2026-03-29T08:40:00+15:00", "it must be a date and a time"),
        ("29/03/26 08:40+02:00", "it must be a date and a time"),
        ("1900-01-01T00:00:00+01:00", "the year must be 1970 to 2199"),
        ("9999-12-31T23:59:59-14:00", "the year must be 1970 to 2199"),
        ("46110.36", "it must be a date and a time"),
        ("8:40 PM", "it must be a date and a time"),
    ],
)
def test_a_stamp_a_spreadsheet_spoiled_is_named(small: Experiment, text: str, rule: str) -> None:
    stamp(small, ["2026-03-01T21:00:00+01:00", "2026-03-01T23:30:00+01:00", text, "2026-03-29T12:10:00+02:00"])
    problem = small.check()[0]
    assert (problem.file, problem.row, problem.column, problem.value) == ("readings.csv", 4, "at", text)
    assert rule in problem.rule


def heights(small: Experiment, texts: Sequence[str], *, delimiter: str) -> None:
    def change(rows: Rows) -> Rows:
        bare = [[*row[:3], text, *row[4:12], "", *row[13:]] for row, text in zip(rows[1:], texts, strict=True)]
        return [rows[0], *bare]

    saved_again(small, "readings.csv", change, delimiter=delimiter)


@pytest.mark.parametrize(
    ("delimiter", "texts", "values"),
    [
        (";", ["40", "62,5", "1,250", "80,5"], [40, 62.5, 1.25, 80.5]),
        (";", ["40", "62.5", "1.250", "80.5"], [40, 62.5, 1.25, 80.5]),
        (";", ["40", "62", "41", "80"], [40, 62, 41, 80]),
        (",", ["40", "62.5", "1.250", "8e1"], [40, 62.5, 1.25, 80]),
    ],
)
def test_decimals_are_read_when_the_file_settles_them(
    small: Experiment, delimiter: str, texts: list[str], values: list[float]
) -> None:
    heights(small, texts, delimiter=delimiter)
    assert small.check() == []
    assert small.readings["height"].tolist() == values


@pytest.mark.parametrize(
    ("delimiter", "texts", "named"),
    [
        (";", ["40", "1.250", "41", "80"], ["1.250"]),
        (";", ["40", "1,250", "41", "2.500"], ["1,250", "2.500"]),
        (";", ["40", "62,5", "1.250", "80,5"], ["1.250"]),
        (";", ["40", "62,5", "1.250,5", "80,5"], ["1.250,5"]),
        (",", ["40", "62,5", "41", "80.5"], ["62,5"]),
        (",", ["40", "62.5", "1 250", "80.5"], ["1 250"]),
        (",", ["40", "62.5", "nan", "inf"], ["nan", "inf"]),
        (",", ["40", "62.5", "1e999", "80.5 mm"], ["1e999", "80.5 mm"]),
        (",", ["40", "62.5", "٤٠", "1_0"], ["٤٠", "1_0"]),
    ],
)
def test_decimals_that_may_be_thousands_are_named(
    small: Experiment, bytes_of: Bytes, delimiter: str, texts: list[str], named: list[str]
) -> None:
    heights(small, texts, delimiter=delimiter)
    before = bytes_of(small.folder)
    problems = small.check()
    assert sorted(str(one.value) for one in problems) == sorted(named)
    assert {one.column for one in problems} == {"height"}
    with pytest.raises(ValueError, match=r"^readings.csv, row"):
        _ = small.readings
    assert bytes_of(small.folder) == before


def test_a_torn_row_is_named_and_the_others_are_not_given_half(small: Experiment) -> None:
    path = small.folder / "readings.csv"
    path.write_bytes(path.read_bytes() + b"007,1,2026-03-29T13:00")
    assert [str(one) for one in small.check()] == [
        "readings.csv, row 6: the row has 3 cells; the header has 15. Put the missing cells in, empty if need be, or quote a "
        "text that holds the delimiter."
    ]
    with pytest.raises(ValueError, match=r"^readings.csv, row 6"):
        _ = small.readings


def test_names_that_a_spreadsheet_took_for_numbers_are_named_as_no_jar(small: Experiment) -> None:
    saved_again(small, "readings.csv", lambda rows: [rows[0], *(["7", *row[1:]] for row in rows[1:])])
    assert {one.rule for one in small.check()} >= {"there is no feed 1 of jar '7' in feeds.csv"}
