"""A time typed in words is shown back in full, or refused below the box with what was typed still in it."""

from __future__ import annotations

from datetime import UTC, datetime

from fallow.panels.controls.moment import MomentField


def field(text=""):
    present = datetime(2026, 12, 3, 17, 5, tzinfo=UTC)
    return MomentField(label="When", time_zone="Europe/Berlin", now=lambda: present, text=text)


def test_what_is_typed_is_shown_back_in_full():
    when = field("25 min ago")
    assert when.value == datetime(2026, 12, 3, 16, 40, tzinfo=UTC)
    assert when.shown == "Thursday 3 Dec 2026, 17:40 (UTC+01:00)"
    assert when.message == ""


def test_an_empty_box_is_none_without_complaint():
    when = field("07:40")
    when.text = "  "
    assert (when.value, when.shown, when.message) == (None, "", "")


def test_what_cannot_be_read_stays_in_the_box_with_its_reason():
    when = field()
    when.text = "Friday 18:00"
    assert (when.text, when.value, when.shown) == ("Friday 18:00", None, "")
    assert when.message.endswith("Write last Friday or next Friday.")


def test_the_present_is_asked_at_each_change():
    hours = iter([datetime(2026, 12, 3, 7, tzinfo=UTC), datetime(2026, 12, 3, 8, tzinfo=UTC)])
    when = MomentField(label="When", time_zone="UTC", now=lambda: next(hours), text="now")
    assert when.value.hour == 7
    when.text = "1 min ago"
    assert (when.value.hour, when.value.minute) == (7, 59)
