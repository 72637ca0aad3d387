"""Import and share in Chromium: a file by its path and by the dialog, by keyboard; a zip out and in again."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect
from tests.browser.moves import no_sideways_scroll
from tests.test_inert_text import nasty_experiment

from fallow.records.experiment import Experiment

pytestmark = pytest.mark.browser

PAGE = "workbook/import_and_share.ipynb"
ROWS = [
    (f"{day:02d}/10/2025 {hour:02d}:{minute:02d}", 3 + hour / 10)
    for day in (22, 23, 24)
    for hour in range(24)
    for minute in (0, 30)
]
HOSTILE = "<img src=x onerror=alert(1)>"
LOG = (
    f"Name;{HOSTILE}\nTime;Probe °F\n"
    + "".join(
        f"{when};{celsius * 1.8 + 32:.2f}\n".replace(".", ",") for when, celsius in ROWS if when[:13] != "23/10/2025 09"
    )
    + f"25/10/2025 00:00;{HOSTILE}\n"
)


def test_a_logger_s_file_is_typed_looked_at_and_added_by_keyboard(lab):
    (lab.folder / "fridge.csv").write_text(LOG, encoding="utf-8")
    page = lab.open(PAGE, height=1100)
    page.get_by_label("Path of the file").first.focus()
    page.keyboard.type(str(lab.folder / "fridge.csv"))
    page.keyboard.press("Enter")
    status = page.get_by_role("status").filter(has_text="readings of temperature")
    expect(status).to_contain_text(
        "142 readings of temperature from 2025-10-22 00:00 to 2025-10-24 23:30, 3 to 5.3 °C."
    )
    expect(page.get_by_text("converted once")).to_be_visible()
    expect(
        page.get_by_text(re.compile("Gaps, nothing is put into them: 2025-10-23 08:30 to 2025-10-23 10:00"))
    ).to_be_visible()
    expect(page.get_by_text(HOSTILE, exact=False).first).to_be_visible()
    assert page.locator("img[src=x]").count() == 0
    lab.picture(page, "import_logger_1280")
    place = page.get_by_label("Place it was in").first
    place.focus()
    page.keyboard.type("mess fridge")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Add these readings").first.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("status").filter(has_text="142 readings were added.")).to_be_visible()
    record = Experiment.open(lab.folder / "experiments" / "harbour-rota")
    assert (record.temperatures["place"] == "mess fridge").sum() == 142
    page.set_viewport_size({"width": 768, "height": 1100})
    no_sideways_scroll(page)
    lab.picture(page, "import_logger_768")


def test_a_meter_s_file_comes_through_the_dialog_opened_by_keyboard(lab, tmp_path: Path):
    meter = tmp_path / "meter.csv"
    meter.write_text("when,pH\n2025-10-25 10:00,5.2\n2025-10-25 12:00,4.4\n2025-10-25 13:00,13\n", encoding="utf-8")
    page = lab.open(PAGE, height=1100)
    # the dialog is caught from now on: asked for only at the press, a busy browser may open it before it is caught
    page.on("filechooser", lambda _: None)
    page.get_by_label("What to do").select_option("add a pH meter's file")
    # the page turns a moment later: until then the other errand's dialog is the visible one
    expect(page.get_by_label("Jar", exact=True)).to_be_visible()
    pick = page.locator("input[type=file]:visible")
    expect(pick).to_have_count(1)
    pick.focus()
    with page.expect_file_chooser() as opened:
        page.keyboard.press("Enter")
    opened.value.set_files(meter)
    expect(page.get_by_role("status").filter(has_text="2 readings of pH")).to_be_visible()
    expect(page.get_by_text("1 row is left out")).to_be_visible()
    lab.picture(page, "import_ph_1280")
    big = tmp_path / "big.csv"
    big.write_bytes(b"0" * 8_000_001)
    pick.set_input_files(big)
    expect(page.get_by_text("big.csv is larger than 8 MB; type its path instead.")).to_be_visible()


def test_an_experiment_leaves_as_a_zip_and_comes_back_under_another_name(lab, tmp_path: Path):
    page = lab.open(PAGE, height=1100)
    page.get_by_label("What to do").select_option("hand an experiment on")
    button = page.get_by_role("button", name="Save it as one zip")
    expect(button).to_be_visible()
    lab.picture(page, "hand_on_1280")
    button.focus()
    with page.expect_download() as saved:
        page.keyboard.press("Enter")
    assert saved.value.suggested_filename == "harbour-rota.zip"
    saved.value.save_as(tmp_path / "rota.zip")
    page.get_by_label("What to do").select_option("take an experiment in")
    expect(page.get_by_label("Path of the zip")).to_be_visible()
    page.locator("input[type=file]:visible").set_input_files(tmp_path / "rota.zip")
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("status").filter(has_text="harbour-rota stands there already")).to_be_visible()
    kept_as = page.get_by_label(re.compile("^Keep it as"))
    kept_as.fill("rota-again")
    kept_as.press("Enter")
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("status").filter(has_text="Harbour rota is in, as rota-again")).to_be_visible(
        timeout=30_000
    )
    lab.picture(page, "take_in_1280")
    page.set_viewport_size({"width": 768, "height": 1100})
    no_sideways_scroll(page)
    lab.picture(page, "take_in_768")
    assert Experiment.open(lab.folder / "experiments" / "rota-again").check() == []


SCRIPT = "<script>window.pwned = 1</script>"
HOSTILE_PAGES = {
    "workbook/record_a_trial.ipynb": "21 jars open",
    "workbook/feeds_to_recovery.ipynb": SCRIPT,
    PAGE: f"{SCRIPT}: 21 jars",
}


@pytest.mark.parametrize("path", HOSTILE_PAGES)
def test_nothing_in_a_hostile_record_runs_in_the_browser(lab, path: str):
    home = lab.folder / "experiments" / "a-hostile-one"
    if not home.exists():
        nasty_experiment(home)
    asked = []
    lab.context.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
    page = lab.open(path, height=1100)
    page.get_by_label("Experiment", exact=True).select_option("a-hostile-one")
    if path == PAGE:
        page.get_by_label("What to do").select_option("hand an experiment on")
    expect(page.locator(".jp-OutputArea-output").get_by_text(HOSTILE_PAGES[path]).first).to_be_attached(timeout=60_000)
    assert page.evaluate("() => window.pwned") is None
    assert page.locator(".jp-OutputArea-output img[src=x], .jp-OutputArea-output iframe").count() == 0
    assert (
        page.locator(
            ".jp-OutputArea-output [onerror], .jp-OutputArea-output [onload], .jp-OutputArea-output [onmouseover]"
        ).count()
        == 0
    )
    assert asked == []
    no_sideways_scroll(page)
    lab.picture(page, f"hostile_{Path(path).stem}")
