"""Rows copied from a spreadsheet: each is read as meant, or named with its line and its cell; nothing is half saved."""

from __future__ import annotations

from datetime import UTC, datetime

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fallow.records.pasted import pasted_feeds, pasted_readings

NOW = datetime(2026, 3, 30, 12, 0, tzinfo=UTC)


def looks(small, text):
    return pasted_readings(text, experiment=small, now=NOW)


def said(found):
    return [str(problem) for problem in found.problems]


@pytest.mark.parametrize(
    "text",
    [
        "jar\tfeed\tat\theight\n007\t1\t2026-03-29 13:00\t82,5",
        "\ufeffat;height, mm;jar\r\n2026-03-29 13:00;82,5;007\r\n\r\n",
        'jar,at,height\n"007",2026-03-29T13:00:00+02:00,82.5',
        "Jar,At,Height (mm),Feed\n007,29 Mar 2026 13:00,82.5,",
        "007\t1\t29/03/2026 13:00\t82.5",
        "jar;at;height\n007;29.03.2026 13:00;82,5",
        "jar\tat\theight\n007\tyesterday 13:00\t82.5",
    ],
)
def test_the_same_look_however_a_spreadsheet_copies_it(small, text):
    found = looks(small, text)
    assert said(found) == []
    found.save(small)
    row = small.readings.iloc[-1]
    assert (row["jar"], row["feed"], row["height"]) == ("007", 1, 82.5)
    assert row["at"] == pd.Timestamp("2026-03-29T11:00:00Z")
    assert small.check() == []


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        ("nobody\t1\t2026-03-29 13:00\t82", "row 2: jar is 'nobody'"),
        ("nobody\t\t2026-03-29 13:00\t82", "there is no such jar that counts here"),
        ("007\t9\t2026-03-29 13:00\t82", "there is no feed 9 of jar '007'"),
        ("007\t\t2020-03-29 13:00\t82", "has no feed by then"),
        ("007\t1\t03/04/2026 13:00\t82", "the day and the month cannot be told apart"),
        ("007\t1\t2026-03-29 02:30\t82", "the clocks go forward"),
        ("007\t1\t2026-03-29\t82", "lacks the hour"),
        ("007\t1\t2026-04-29 13:00\t82", "it is still to come"),
        ("007\t1\t\t82", "row 2: at is empty"),
        ("007\t1\t2026-03-29 13:00\teighty", "row 2: height is 'eighty'; it must be a number"),
        ("007\t1\t2026-03-29 13:00\t-4", "row 2: height is '-4'"),
        ("007\t1\t2026-03-29 13:00\t82\tand more", "the row has 5 cells; there are 4 columns"),
        ("0\x0007\t1\t2026-03-29 13:00\t82", "NUL"),
        ("007\t1\t2026-03-29 08:40\t41", "stands in readings.csv already"),
        ("007\t1\t2026-03-29 07:00\t41", "the reading lies before its feed"),
        ('007\t1\t"2026-03-29 13:00\t82', "quotation mark that is not closed"),
    ],
)
def test_what_cannot_be_saved_is_named_with_its_line(small, bytes_of, row, problem):
    before = bytes_of(small.folder)
    found = looks(small, f"jar\tfeed\tat\theight\n{row}")
    assert any(problem in one for one in said(found)), said(found)
    with pytest.raises(ValueError, match="pasted text"):
        found.save(small)
    assert bytes_of(small.folder) == before


def test_every_problem_of_a_row_is_named_and_each_cell_once(small):
    found = looks(small, "jar\tat\theight\tcolour\nnobody\tsoon\teighty\tgreen\n007\t2026-03-29 13:00\tninety\t")
    assert sorted(one.split(";")[0].removeprefix("pasted text, ")[:29] for one in said(found)) == [
        "row 1: there is no column 'co",
        "row 2: at is 'soon'",
        "row 2: height is 'eighty'",
        "row 2: jar is 'nobody'",
        "row 3: height is 'ninety'",
    ]


def test_a_date_that_one_row_settles_is_read_in_all(small):
    found = looks(
        small, "jar\tat\theight\n007\t29/03/2026 13:00\t80\n007\t03/03/2026 13:00\t81\n007\t02/03/2026 13:00\t82"
    )
    assert said(found) == []
    assert [row["at"][:10] for row in found.rows["readings"]] == ["2026-03-29", "2026-03-03", "2026-03-02"]
    mixed = looks(
        small, "jar\tat\theight\n007\t29/03/2026 13:00\t80\n007\t03/29/2026 14:00\t81\n007\t02/03/2026 1:00\t8"
    )
    assert any("cannot be told apart" in one for one in said(mixed))


def test_two_rows_of_one_look_are_told(small):
    found = looks(small, "jar\tat\theight\n007\t2026-03-29 13:00\t80\n007\t2026-03-29 13:00\t81")
    assert len(found.problems) == 1
    assert "row 3" in said(found)[0]


def test_feeds_take_their_numbers_their_kind_and_their_flours(small):
    found = pasted_feeds(
        "jar\tat\tseed_g\twater_g\tbread_g\trye_g\tplace_temp_c\n"
        "007\tyesterday 20:00\t20\t60\t50\t10,5\t24\n007\t07:00\t20\t60\t60\t\t24",
        experiment=small,
        now=NOW,
    )
    assert said(found) == []
    found.save(small)
    fed = small.feeds.set_index("feed")
    assert fed.loc[[2, 3], ["kind", "bread_g", "rye_g"]].to_numpy().tolist() == [
        ["recovery", 50, 10.5], ["recovery", 60, 0],
    ]  # fmt: skip
    assert small.check() == []
    small.undo()
    assert len(small.feeds) == 2


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("jar\tat\tseed_g\n007\tnow\t0", "seed_g is '0'"),
        ("jar\tat\tbred_g\n007\tnow\t50", "Did you mean 'bread_g'?"),
        ("jar\tat\tbread_g\n007\tnow\tlots", "grams is 'lots'"),
        ("jar\tat\tkind\n007\tnow\tlast", "has feeds already"),
        ("jar\tat\tkind\n007\tnow\tsupper", "kind is 'supper'"),
        ("jar\tat\tfeed\n007\t2026-03-02 09:00\t2", "must come after feed 1"),
    ],
)
def test_feeds_that_cannot_be_saved_are_named(small, text, problem):
    assert any(problem in one for one in said(pasted_feeds(text, experiment=small, now=NOW)))


def test_too_much_at_once_is_refused_before_it_is_read(small):
    assert "Paste it in parts" in said(looks(small, "x" * 600_000))[0]
    assert "Paste it in parts" in said(looks(small, "007\t1\tnow\t4\n" * 5_001))[0]


@given(text=st.text(alphabet=st.sampled_from("jar\tfeedathigh\n;,\"'0123456789.:-/ 007<>=\u202e\u0000é"), max_size=200))
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_any_text_is_rows_or_named_problems(small, text):
    for read in (pasted_readings, pasted_feeds):
        found = read(text, experiment=small, now=NOW)
        assert found.problems or found.count
        assert all(len(str(problem)) < 700 for problem in found.problems)
