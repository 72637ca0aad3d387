"""The page without a browser: each guess shown, each question asked, nothing saved unasked, zips both ways."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fallow.panels.import_and_share.page import HAND_ON, LOGGER, METER, NONE_YET, TAKE_IN, ImportAndShare
from fallow.records.experiment import Experiment
from fallow.records.share import zip_bytes

NOW = datetime(2026, 3, 30, 9, 0, tzinfo=UTC)
LOG = "when;temp °F\n" + "".join(
    f"{day:02d}/03/2026 {hour:02d}:00;39,2\n" for day in (27, 28, 29) for hour in range(4, 24)
)
PH = "when,pH\n2026-03-29 10:00,5.2\n2026-03-29 12:00,4.4\n2026-03-29 13:00,12\n"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    folder = tmp_path / "experiments"
    record = Experiment.create(folder / "rota", title="Rota", question="Does it hold?")
    record.add_culture(culture="gull")
    record.add_jar(jar="J1", culture="gull")
    record.add_feed(jar="J1", feed=1, at="2026-03-29T07:40:00+02:00", seed_g=20, water_g=100, flours_g={"bread": 100})
    (tmp_path / "fridge.csv").write_text(LOG, encoding="utf-8")
    (tmp_path / "meter.csv").write_text(PH, encoding="utf-8")
    return folder


@pytest.fixture
def page(home: Path) -> ImportAndShare:
    return ImportAndShare(home, now=lambda: NOW)


def shown(page: ImportAndShare) -> list[str]:
    return [name for name, block in page.blocks.items() if block.layout.display != "none"]


def test_one_errand_is_shown_at_a_time(page: ImportAndShare) -> None:
    for errand in (LOGGER, METER, HAND_ON, TAKE_IN):
        page.errand.value = errand
        assert shown(page) == [errand]
        assert page.trouble.text == ""
    assert page.experiment.layout.display == "none"


def test_at_most_seven_controls_stand_before_more(page: ImportAndShare) -> None:
    for errand in (LOGGER, METER):
        assert 2 + len(page.blocks[errand].children[0].children) <= 7


def test_a_file_is_shown_before_it_is_added_and_the_time_zone_is_asked_once(page: ImportAndShare, home: Path) -> None:
    block = page.logger
    block.path.text = str(home.parent / "fridge.csv")
    assert block.answer.trouble
    assert "Say in which time zone its clock ran" in block.answer.text
    block.zone.text = "Europe/Oslo"
    assert not block.answer.trouble
    assert block.answer.text == "60 readings of temperature from 2026-03-27 04:00 to 2026-03-29 23:00, 4 to 4 °C."
    assert len(block.answer.text.split()) <= 30
    for said in (
        "converted once",
        "Dates are read with the day first",
        "set apart by semicolons",
        "No row is left out",
        "Gaps, nothing is put into them",
    ):
        assert said in block.note.markup
    assert len(Experiment.open(home / "rota").temperatures) == 0
    assert "Places on record" not in block.note.markup
    block.add.presses += 1
    assert block.answer.text.startswith("Place is empty")
    block.place.text = "galley fridge"
    block.add.presses += 1
    assert block.answer.text == "60 readings were added. Europe/Oslo is kept as the experiment's time zone."
    record = Experiment.open(home / "rota")
    assert (record.time_zone, record.check()) == ("Europe/Oslo", [])
    assert record.temperatures["temp_c"].tolist() == [4.0] * 60
    block.add.presses += 1
    assert block.answer.text == "0 readings were added. 60 stood there already."
    page.errand.value = METER
    assert page.meter.zone.text == "Europe/Oslo"
    page.errand.value = LOGGER
    assert "Places on record: galley fridge." in block.note.markup


def test_a_logger_s_own_clock_of_one_offset_does_not_become_the_kitchen_s(page: ImportAndShare, home: Path) -> None:
    page.logger.path.text, page.logger.zone.text, page.logger.place.text = (
        str(home.parent / "fridge.csv"),
        "Etc/GMT-1",
        "fridge",
    )
    page.logger.add.presses += 1
    assert page.logger.answer.text == "60 readings were added."
    assert Experiment.open(home / "rota").time_zone == "UTC"


def test_a_question_unfolds_what_answers_it(page: ImportAndShare) -> None:
    block = page.logger
    block.zone.text = "Europe/Oslo"
    assert block.more.inside.layout.display == "none"
    block.pick.choose(file_name="box.csv", content=b"hours,temp\n0,36\n0.5,37\n1,38\n")
    assert block.answer.text.startswith("box.csv: Its times count from a start.")
    assert "°C or °F" in block.answer.text
    assert block.more.inside.layout.display == "grid"
    block.unit.value = "°C"
    block.began.text = "soon"
    assert block.answer.text.startswith("'soon'")
    block.began.text = "yesterday 07:40"
    assert block.answer.text == "3 readings of temperature from 2026-03-29 07:40 to 2026-03-29 08:40, 36 to 38 °C."
    block.counted.value = "minutes"
    assert "to 2026-03-29 07:41" in block.answer.text


def test_columns_can_be_corrected_and_the_next_file_starts_anew(page: ImportAndShare) -> None:
    block = page.logger
    block.zone.text = "Europe/Oslo"
    two = b"time,inside C,outside C\n2026-03-29 10:00,4,20\n2026-03-29 11:00,4,21\n"
    block.pick.choose(file_name="two.csv", content=two)
    assert block.column.options == ["as guessed", "time", "inside C", "outside C"]
    assert "These could be readings too: outside C." in block.note.markup
    block.column.value = "outside C"
    assert ", 20 to 21 °C." in block.answer.text
    block.pick.choose(file_name="one.csv", content=b"time,temp\n2026-03-29 10:00,5\n2026-03-29 11:00,6\n")
    assert block.column.value == "as guessed"
    assert ", 5 to 6 °C." in block.answer.text


@pytest.mark.parametrize("path", ["nowhere.csv", "/", "~nobodyhere/x.csv", "a\0b", '""', "x" * 5000])
def test_what_cannot_be_read_is_told_and_nothing_is_left_to_add(page: ImportAndShare, path: str) -> None:
    page.logger.pick.choose(file_name="one.csv", content=b"time,temp\n2026-03-29T10:00Z,5\n2026-03-29T11:00Z,6\n")
    assert page.logger.preview is not None
    page.logger.path.text = path
    assert page.logger.answer.trouble
    assert page.logger.pick.file_name == ""
    page.logger.add.presses += 1
    assert page.logger.answer.text.startswith("There is no readable file yet")


def test_a_meter_s_file_goes_to_a_jar(page: ImportAndShare, home: Path) -> None:
    page.errand.value = METER
    block = page.meter
    block.zone.text = "Europe/Oslo"
    block.path.text = str(home.parent / "meter.csv")
    assert block.answer.text == "2 readings of pH from 2026-03-29 10:00 to 2026-03-29 12:00, 4.4 to 5.2."
    assert "1 row is left out" in block.note.markup
    # fed at 07:40, looked at 2 h 20 min and 4 h 20 min later
    assert re.search(r"<td>1</td>\s*<td>2</td>\s*<td>2.3 to 4.3</td>", block.note.markup)
    assert "row 4 (12)" in block.note.markup
    block.add.presses += 1
    assert block.answer.text.startswith("2 readings were added.")
    assert Experiment.open(home / "rota").readings["ph"].tolist() == [5.2, 4.4]


def test_an_experiment_is_handed_on_and_taken_in_again(page: ImportAndShare, home: Path) -> None:
    page.errand.value = HAND_ON
    assert page.hand_on.answer.text == "Rota: 1 jars, sound, licence CC0-1.0."
    page.hand_on.zip.presses += 1
    assert page.hand_on.zip.message.startswith("Saved as rota.zip")
    data = page.hand_on.packed()
    assert data == zip_bytes(Experiment.open(home / "rota"))
    with zipfile.ZipFile(io.BytesIO(page.hand_on.copied())) as archive:
        assert "rota-for-a-spreadsheet/feeds.csv" in archive.namelist()
    page.errand.value = TAKE_IN
    block = page.take_in
    block.go.presses += 1
    assert block.answer.text == "Type the path of a zip, or choose one."
    block.pick.choose(file_name="rota.zip", content=data)
    block.go.presses += 1
    assert block.answer.trouble
    assert (
        block.answer.text
        == "A folder rota stands there already; an import never writes over it. Give the import another name."
    )
    block.kept_as.text = "rota-2"
    block.go.presses += 1
    assert block.answer.text == "Rota is in, as rota-2; it was checked and is sound."
    assert "Its licence is CC0-1.0." in block.note.markup
    assert page.experiment.options == ["rota", "rota-2"]
    assert page.experiment.value == "rota-2"


def test_a_zip_that_is_none_is_refused_and_leaves_nothing(page: ImportAndShare, home: Path) -> None:
    page.errand.value = TAKE_IN
    page.take_in.path.text = str(home.parent / "fridge.csv")
    page.take_in.go.presses += 1
    assert re.match(r"fridge.csv cannot be read as a zip", page.take_in.answer.text)
    page.take_in.path.text = "~nobodyhere/rota.zip"
    page.take_in.go.presses += 1
    assert page.take_in.answer.text.startswith("The path is '~nobodyhere/rota.zip'; it leads nowhere")
    assert [one.name for one in home.iterdir() if one.name != ".fallow"] == ["rota"]


def test_a_broken_and_a_missing_experiment_are_told_in_words(page: ImportAndShare, home: Path, tmp_path: Path) -> None:
    (home / "rota" / "jars.csv").write_text("jar\n", encoding="utf-8")
    page.errand.value = METER
    assert page.trouble.trouble
    assert shown(page) == []
    empty = tmp_path / "none"
    empty.mkdir()
    alone = ImportAndShare(empty)
    assert alone.experiment.value == NONE_YET
    assert alone.trouble.text.startswith("There is no experiment yet")
    alone.errand.value = TAKE_IN
    assert shown(alone) == [TAKE_IN]


def test_nothing_happens_on_disk_while_a_file_is_only_looked_at(page: ImportAndShare, home: Path) -> None:
    before = {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    page.logger.zone.text = "Europe/Oslo"
    page.logger.path.text = str(home.parent / "fridge.csv")
    page.errand.value = HAND_ON
    page.hand_on.copied()
    assert {path: path.read_bytes() for path in home.rglob("*") if path.is_file()} == before
