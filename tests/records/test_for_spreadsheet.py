"""Copies for a spreadsheet: nothing in them runs, numbers are untouched, and they read back to the record exactly."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fallow.records.experiment import Experiment
from fallow.records.schema import BY_NAME, TEXT
from fallow.records.spreadsheet import for_spreadsheet, from_spreadsheet, guarded, unguarded

ROOT = Path(__file__).resolve().parents[2]

# OWASP, "CSV Injection": cells that begin with = + - @, tab (0x09) or carriage return (0x0D), and their full-width twins.
RUNS = ["=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠"]
TEXTS = [
    '=HYPERLINK("file:///x","click")', "+1", "-1+2", "@SUM(A1)", "\t=1", "\r=1", "'", "''", "'=1", "''=1", " =1", "'tis", "rye; =1",
    "a;'=1", "two\nlines\n-of text", "", "plain", "-", "=", "﹦1", "\u202e=1", "🍞", "x" * 10_000, "<script>alert(1)</script>", '"=1"',
]  # fmt: skip


@pytest.mark.parametrize("start", RUNS)
@pytest.mark.parametrize("rest", ["", "1+1", "cmd|' /C calc'!A0"])
def test_a_cell_that_would_run_begins_with_an_apostrophe(start: str, rest: str) -> None:
    assert guarded(start + rest)[0] == "'"
    assert guarded(" " + start + rest)[0] == "'"


@settings(max_examples=500)
@given(st.one_of(st.text(), st.text(alphabet="=+-@'\t\r\n; \"a,＝"), st.sampled_from(TEXTS)))
def test_the_guard_is_undone_exactly_and_leaves_no_start_that_runs(text: str) -> None:
    safe = guarded(text)
    assert unguarded(safe) == text
    # where a spreadsheet's delimiter is another, a cell is cut there: no piece may run either
    for piece in re.split(r"[;\t\r\n]", safe):
        assert not piece.strip(" ").startswith(tuple("=+-@＝＋－＠")), (text, safe)
    assert not safe.startswith(("\t", "\r"))


def opened(path: Path) -> list[dict[str, str]]:
    """The cells as a spreadsheet gets them."""
    text = path.read_bytes().decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_text_columns_are_guarded_and_numbers_and_times_are_not(small: Experiment, tmp_path: Path) -> None:
    for number, text in enumerate(TEXTS):
        jar = f"{text[:20].strip()}{number}"
        small.add_jar(jar=jar, culture="gull", treatment=text, note=text, hold_temp_c=-1.5)
        small.add_feed(jar=jar, feed=-1, at="2026-03-01T20:00:00-03:00", seed_g=1, water_g=1, flours_g=None)
    made = for_spreadsheet(small, tmp_path / "out")
    assert {path.name for path in made} == {
        f"{name}.csv" for name in ("cultures", "jars", "feeds", "feed_flours", "readings", "temperatures")
    }
    for path in made:
        table = BY_NAME[path.stem]
        kept = opened(small.folder / path.name)
        for row, original in zip(opened(path), kept, strict=True):
            for name, cell in row.items():
                if table.by_name[name].type == TEXT:
                    assert not cell.startswith(tuple(RUNS)), (path.name, name, cell)
                else:
                    assert cell == original[name]
        assert from_spreadsheet(table=path.stem, data=path.read_bytes()) == (small.folder / path.name).read_bytes()
    rows = opened(tmp_path / "out" / "jars.csv")
    assert {row["hold_temp_c"] for row in rows[1:]} == {"-1.5"}
    assert {row["feed"] for row in opened(tmp_path / "out" / "feeds.csv")} == {"-1", "0", "1"}


CELLS = st.one_of(
    st.sampled_from(TEXTS),
    st.text(alphabet=st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=20),
    st.text(alphabet="=+-@'\t\r\n; \"a,", max_size=12),
)


@settings(max_examples=15, suppress_health_check=list(HealthCheck))
@given(rows=st.lists(st.tuples(CELLS, CELLS, st.one_of(st.none(), st.floats(-30, 29))), min_size=1, max_size=25))
def test_any_record_reads_back_from_its_copies_byte_for_byte(
    rows: list[tuple[str, str, float | None]], small_once: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    home = tmp_path_factory.mktemp("copies")
    record = Experiment.create(home / "record", title="T", question="Q")
    record.add_culture(culture="gull")
    record.add(
        {
            "jars": [
                {
                    "jar": f"j{at}",
                    "culture": "gull",
                    "height_unit": "mm",
                    "treatment": one,
                    "note": two,
                    "hold_temp_c": c,
                }
                for at, (one, two, c) in enumerate(rows)
            ]
        }
    )
    for path in for_spreadsheet(record, home / "out"):
        assert from_spreadsheet(table=path.stem, data=path.read_bytes()) == (record.folder / path.name).read_bytes()


def test_the_rota_reads_back_from_its_copies(tmp_path: Path) -> None:
    record = Experiment.open(ROOT / "experiments" / "harbour-rota")
    made = for_spreadsheet(record, tmp_path)
    assert "plan.csv" in {path.name for path in made}
    for path in made:
        assert from_spreadsheet(table=path.stem, data=path.read_bytes()) == (record.folder / path.name).read_bytes()


def test_a_copy_saved_again_with_semicolons_reads_back_the_same(small: Experiment, tmp_path: Path) -> None:
    small.add_jar(jar="=1", culture="gull", note="-see; +there", hold_temp_c=-1.5)
    path = next(one for one in for_spreadsheet(small, tmp_path / "out") if one.name == "jars.csv")
    rows = list(csv.reader(io.StringIO(path.read_bytes().decode("utf-8-sig"), newline="")))
    out = io.StringIO()
    csv.writer(out, delimiter=";", lineterminator="\r\n").writerows(
        [[cell.replace("-1.5", "-1,5") for cell in row] for row in rows]
    )
    again = b"\xef\xbb\xbf" + out.getvalue().encode("utf-8")
    assert from_spreadsheet(table="jars", data=again) == (small.folder / "jars.csv").read_bytes()


def test_what_cannot_be_read_is_named_and_nothing_is_written_over(small: Experiment, tmp_path: Path) -> None:
    for_spreadsheet(small, tmp_path)
    with pytest.raises(ValueError, match=r"^cultures.csv stands in .+ already; it is not written over"):
        for_spreadsheet(small, tmp_path)
    with pytest.raises(ValueError, match=r"^feeds.csv, row 1: jar is missing"):
        from_spreadsheet(table="feeds", data=b"feed\n1\n")
