"""Malformed files and fields, over 500 of them: each ends in a named problem or in a correct read, and changes no byte."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from fallow.records.experiment import Experiment
from fallow.records.problems import Problem

TABLES = ("cultures", "jars", "feeds", "feed_flours", "readings", "temperatures")
EXAMPLES, FIELDS = 150, 120
FILES = ("datapackage.json", "changes.jsonl", *(f"{name}.csv" for name in TABLES))

NASTY = [
    b"", b"\n", b"\0", b"\xff", b"\xfe\xff", b"\xff\xfe", b"\xef\xbb\xbf", b"\xef\xbb\xbf\xef\xbb\xbf", b'"', b'""', b'"\n', b"'",
    b",", b",,,,", b";", b"\t", b"|", b"\r", b"\r\n", b"\n\n\n", b"sep=;\n", b"=HYPERLINK(1)", b"<script>alert(1)</script>",
    b"-1", b"0", b"NaN", b"inf", b"1e400", b"1,5", b"1.5.5", b"0x10", b"1_000", b"99999999999999999999", b"NULL", b"None",
    "\u202e\U0001f35e".encode(), "٤٢".encode(), "½".encode(), b"\xc3", b"\xc3\x28", b"x" * 10_000, b'"' + b"y" * 200_000 + b'"',
    b"2026-03-29T07:40", b"29/03/2026", b"2026-13-45T99:99:99+99:99", b"0000-00-00T00:00:00Z", b"9999-12-31T23:59:59-14:00",
    b"0001-01-01T00:00:00+14:00", b"jar,feed,at\n", b"{", b"[1]", b"null", b"{}\n", b'{"at":1}\n', b"\x1a", b"\x0b\x0c\x1c", b"#",
]  # fmt: skip


@pytest.fixture(scope="module")
def folder(small_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A copy of the small experiment that each case spoils and mends again."""
    copy = shutil.copytree(small_once, tmp_path_factory.mktemp("fuzz") / "small")
    yield copy
    assert Experiment.open(copy).check() == []


def looked_at(folder: Path, file: str, data: bytes | None) -> None:
    """Put other bytes (None: no file) in a file's place, look at all there is, and hold what was said against the bytes."""
    path = folder / file
    sound = path.read_bytes()
    before = {one: one.read_bytes() for one in folder.iterdir() if one.is_file()}
    before[path] = data
    try:
        path.unlink()
        if data is not None:
            path.write_bytes(data)
        record = Experiment.open(folder)
        problems = record.check()
        assert all(isinstance(one, Problem) and one.rule and one.next_step and len(str(one)) < 2000 for one in problems)
        for name in TABLES:
            read_or_named(record, name, problems)
        assert {one: one.read_bytes() for one in folder.iterdir() if one.is_file()} == {
            one: kept for one, kept in before.items() if kept is not None
        }
    finally:
        path.write_bytes(sound)


def refusal(act: Callable[[], object]) -> str:
    """Return what a refusal says; nothing when there was none."""
    try:
        act()
    except ValueError as error:
        return str(error)
    return ""


def read_or_named(record: Experiment, name: str, problems: list[Problem]) -> None:
    said = refusal(lambda: record.table(name, withdrawn=True))
    if said:
        assert said in {str(problem) for problem in problems}
        return
    frame = record.table(name, withdrawn=True)
    text = (record.folder / f"{name}.csv").read_bytes().decode("utf-8-sig")
    for time in [column for column in frame if f"{column}_text" in frame]:
        told = pd.to_datetime(frame[f"{time}_text"], format="ISO8601", utc=True)
        assert told.dropna().tolist() == frame[time].dropna().tolist()
        frame[time] = frame[f"{time}_text"]
    held_against_the_cells(frame, text)


def held_against_the_cells(frame: pd.DataFrame, text: str) -> None:
    """Read the text a second way, cell by cell, and compare every value."""
    first = text.lstrip("\r\n").split("\n")[0]
    delimiter = max(",;\t", key=first.count)
    rows = [row for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter) if any(map(str.strip, row))]
    header = [cell.strip() for cell in rows[0]]
    assert len(frame) == len(rows) - 1
    for name in set(header) & set(frame.columns):
        for cell, value in zip((row[header.index(name)] for row in rows[1:]), frame[name].tolist(), strict=True):
            assert same(cell, value), (name, cell, value)


def same(cell: str, value: Any) -> bool:
    if isinstance(value, float) and np.isnan(value):
        return cell.strip() == ""
    if isinstance(value, str):
        return cell == value or (
            cell[:4] == value[:4] and datetime.fromisoformat(cell.strip()) == datetime.fromisoformat(value)
        )
    return float(cell.replace(",", ".")) == float(value)


PLACES = [
    *(("instead of a cell", file) for file in FILES if file not in ("cultures.csv", "temperatures.csv")),
    ("replaced", "jars.csv"),
    ("replaced", "datapackage.json"),
    ("before", "feeds.csv"),
    ("after", "feeds.csv"),
    ("after", "readings.csv"),
    ("within a cell", "readings.csv"),
]


@pytest.mark.parametrize(("how", "file"), PLACES)
def test_a_written_list_of_spoiled_files(folder: Path, how: str, file: str) -> None:
    sound = (folder / file).read_bytes()
    middle = sound.rfind(b",", 0, len(sound) - 20) + 1
    end = next(i for i in range(middle, len(sound)) if sound[i : i + 1] in b",\n}")
    for nasty in NASTY:
        spoiled_in = {
            "replaced": nasty,
            "before": nasty + sound,
            "after": sound + nasty,
            "within a cell": sound[: middle + 1] + nasty + sound[middle + 1 :],
            "instead of a cell": sound[:middle] + nasty + sound[end:],
        }
        looked_at(folder, file, spoiled_in[how])


@pytest.mark.parametrize("file", FILES)
def test_a_file_that_is_gone_is_told(folder: Path, file: str) -> None:
    looked_at(folder, file, None)


def test_at_least_five_hundred_spoiled_files_and_fields_are_tried() -> None:
    assert len(PLACES) * len(NASTY) + len(FILES) + EXAMPLES + FIELDS >= 500


EDITS = st.lists(
    st.tuples(
        st.sampled_from(["cut", "insert", "repeat", "swap"]),
        st.floats(0, 1),
        st.integers(1, 60),
        st.one_of(st.binary(min_size=1, max_size=8), st.sampled_from(NASTY)),
    ),
    min_size=1,
    max_size=4,
)


def spoiled(data: bytes, edits: list[tuple[str, float, int, bytes]]) -> bytes:
    for how, where, length, new in edits:
        at = int(where * len(data))
        piece = data[at : at + length]
        data = {
            "cut": data[:at] + data[at + length :],
            "insert": data[:at] + new + data[at:],
            "repeat": data[:at] + piece + piece + data[at + length :],
            "swap": data[:at] + new + data[at + length :],
        }[how]
    return data


@settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(file=st.sampled_from(FILES), edits=EDITS)
def test_any_spoiled_file_is_named_or_read_correctly(
    folder: Path, file: str, edits: list[tuple[str, float, int, bytes]]
) -> None:
    looked_at(folder, file, spoiled((folder / file).read_bytes(), edits))


ANYTHING = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=30),
    st.sampled_from(
        ["007", "gull", "2026-03-29T13:00:00+02:00", "bread", "\ud800", "\0", "x" * 10_000, float("nan"), -0.0]
    ),
    st.datetimes(),
    st.binary(max_size=4),
    st.just(np.float32(1.5)),
    st.just(pd.NaT),
    st.just(pd.Timestamp("2026-03-29T13:00:00Z")),
    st.just(timedelta(hours=1)),
    st.just([1]),
)
READING = {"jar": "007", "feed": 1, "at": "2026-03-29T13:00:00+02:00", "height": 90}


@settings(
    max_examples=FIELDS,
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    columns=st.dictionaries(
        st.sampled_from(
            ["jar", "feed", "at", "height", "dome", "ph", "temp_c", "note", "tta_ml", "smell", "withdrawn", "heigth"]
        ),
        ANYTHING,
        min_size=1,
        max_size=3,
    )
)
def test_any_field_is_refused_in_one_sentence_or_kept_as_it_is(folder: Path, columns: dict[str, Any]) -> None:
    before = {one: one.read_bytes() for one in folder.iterdir() if one.is_file()}
    record = Experiment.open(folder)
    said = refusal(lambda: record.add_reading(**READING | columns))
    if said:
        assert len(said) < 2000
        assert "\n" not in said
        assert {one: one.read_bytes() for one in folder.iterdir() if one.is_file()} == before
        return
    assert record.check() == []
    kept = Experiment.open(folder).readings.iloc[-1]
    for name, value in columns.items():
        if isinstance(value, str) and value.strip() and name in ("note", "smell"):
            assert kept[name] == value
        if (
            isinstance(value, int | float)
            and name in ("height", "ph", "temp_c", "tta_ml")
            and not isinstance(value, bool)
        ):
            assert kept[name] == pytest.approx(value, rel=0, abs=0)
    record.undo()
    (folder / "changes.jsonl").write_bytes(before[folder / "changes.jsonl"])
