"""The kitchen's time zone: the browser's until somebody types another, and always one that exists."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from fallow.panels.controls.field import TextField
from fallow.panels.controls.zone import ZoneField, machine_zone


def test_the_machine_s_zone_holds_until_the_browser_says_its_own(monkeypatch):
    monkeypatch.setenv("TZ", "America/St_Johns")
    field = ZoneField(label="Time zone")
    assert field.value == "America/St_Johns"
    field.browser = "Asia/Kathmandu"
    assert (field.text, field.value) == ("Asia/Kathmandu", "Asia/Kathmandu")


def test_a_zone_that_was_typed_is_kept_whatever_the_browser_says():
    field = ZoneField(label="Time zone")
    field.text = "Europe/Berlin"
    field.browser = "Asia/Kathmandu"
    assert field.value == "Europe/Berlin"
    given = ZoneField(label="Time zone", text="Europe/Berlin")
    given.browser = "Asia/Kathmandu"
    assert given.value == "Europe/Berlin"


def test_what_is_no_zone_stays_with_its_reason_and_the_last_one_holds():
    field = ZoneField(label="Time zone", text="Europe/Berlin")
    field.text = "Berlin"
    assert (field.text, field.value) == ("Berlin", "Europe/Berlin")
    assert field.message.startswith("'Berlin' is no time zone;")
    field.text = "Europe/Paris"
    assert (field.message, field.value) == ("", "Europe/Paris")


def test_an_unknown_zone_of_the_machine_is_not_believed(monkeypatch):
    monkeypatch.setenv("TZ", "CEST-2")
    assert ZoneInfo(machine_zone())


def test_the_browser_is_asked_by_the_field_itself():
    assert "resolvedOptions().timeZone" in ZoneField._esm
    assert ZoneField._esm.count("export default") == TextField._esm.count("export default") == 1
