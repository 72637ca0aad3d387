"""Flours and waking hours as they are typed: read, or refused with the reason and kept in the box."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fallow.panels.controls.flours import ReadField, flour_shares, waking_hours
from fallow.plans.clock import Awake


@pytest.mark.parametrize(
    ("text", "shares"),
    [
        ("bread 80, rye 20", {"bread": 0.8, "rye": 0.2}),
        ("80 % bread; 20 % rye", {"bread": 0.8, "rye": 0.2}),
        ("4 bread,1 whole rye", {"bread": 0.8, "whole rye": 0.2}),
        ("bread 1,5, rye 0.5", {"bread": 0.75, "rye": 0.25}),
        ("white", {"white": 1.0}),
        ("white 30", {"white": 1.0}),
        ("bread 80, rye 20, oats 0", {"bread": 0.8, "rye": 0.2, "oats": 0.0}),
    ],
)
def test_flours_are_read_in_any_order(text, shares):
    assert flour_shares(text) == pytest.approx(shares)


@pytest.mark.parametrize("text", ["", "80", "bread 80 80", "20 bread 80", ", rye 20", "bread 0, rye 0", "bread, rye"])
def test_what_names_no_flours_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match="Write bread 80, rye 20"):
        flour_shares(text)


@given(parts=st.lists(st.integers(1, 1000), min_size=1, max_size=5))
def test_shares_add_up_to_one(parts):
    text = ", ".join(f"flour{'abcde'[k]} {part}" for k, part in enumerate(parts))
    shares = flour_shares(text)
    assert sum(shares.values()) == pytest.approx(1.0)
    assert [share * sum(parts) for share in shares.values()] == pytest.approx(parts)


def test_what_cannot_be_used_stays_in_the_box():
    field = ReadField(label="Flours", text="bread 80, rye", read=flour_shares)
    assert field.value is None
    assert "each flour needs its part" in field.message
    field.text = "bread 80, rye 20"
    assert (field.value, field.message) == ({"bread": 0.8, "rye": 0.2}, "")
    awake = ReadField(label="Awake", text="all day", read=waking_hours)
    assert (awake.value, awake.text) == (None, "all day")
    awake.text = "7.00 - 22:30"
    assert (awake.value, awake.message) == (("7:00", "22:30"), "")


def test_two_flours_of_one_name_are_refused():
    with pytest.raises(ValueError, match="twice"):
        flour_shares("bread 50, bread 50")


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("7 to 22", ("7:00", "22:00")),
        ("7-22", ("7:00", "22:00")),
        ("7am to 10pm", ("7:00", "22:00")),
        ("from 7 AM until 10:30 PM", ("7:00", "22:30")),
        ("06.30 – 24:00", ("6:30", "24:00")),
        ("22 to 6", ("22:00", "6:00")),
        ("12 pm to 12 am", ("12:00", "0:00")),
        ("7:00 to 10:00", ("7:00", "10:00")),
    ],
)
def test_waking_hours_as_bakers_type_them(text, ends):
    assert waking_hours(text) == ends
    Awake.read(ends)


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("07:00", "it must be two hours"),
        ("7 to 10", "its hours could be of the morning or of the evening"),
        ("7am to 10", "am and pm stand at both hours"),
        ("7 to 13 pm", "am and pm stand at both hours"),
        ("7 am to 13 pm", "with am or pm the hour is 1 to 12"),
        ("07:00 to 25:00", "the hours of a day are 00:00 to 24:00"),
        ("07:00 to 24:30", "the hours of a day are 00:00 to 24:00"),
        ("07:75 to 22:00", "the hours of a day are 00:00 to 24:00"),
    ],
)
def test_what_is_no_span_of_the_day_is_refused_with_an_example(text, rule):
    with pytest.raises(ValueError, match=f"'{text}' is no span of the day; {rule}.* Write "):
        waking_hours(text)
