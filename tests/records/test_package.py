"""The data package against an outside validator (frictionless 5, Data Package 2.0), and what the package says."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import frictionless
import pytest

import fallow
from fallow.records import schema
from fallow.records.experiment import Experiment
from fallow.records.package import Package, RecoveryRule, read_package, write_package

EXPERIMENTS = Path(__file__).resolve().parents[2] / "experiments"


def faults(folder: Path) -> list[list[Any]]:
    """What frictionless finds; a folder of ours is trusted to stand where it stands."""
    with frictionless.system.use_context(trusted=True):
        report = frictionless.validate(str(folder / "datapackage.json"))
    return report.flatten(["type", "title", "message"])


def described(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))


def test_frictionless_accepts_a_new_and_a_filled_experiment(small: Experiment, tmp_path: Path) -> None:
    Experiment.create(tmp_path / "new", title="New", question="Nothing yet?")
    assert faults(tmp_path / "new") == []
    small.withdraw("readings", ("007", 1, "2026-03-29T08:40:00+02:00"), 'he said "no, flat"\nand left')
    assert faults(small.folder) == []


def test_frictionless_accepts_every_experiment_of_the_project_and_so_does_check() -> None:
    for folder in sorted(path.parent for path in EXPERIMENTS.glob("*/datapackage.json")):
        assert faults(folder) == [], folder.name
        assert Experiment.open(folder).check() == [], folder.name


@pytest.mark.parametrize(
    ("file", "before", "after"),
    [
        ("feeds.csv", ",20,100,", ",-20,100,"),
        ("feeds.csv", ",20,100,", ",twenty,100,"),
        ("feeds.csv", "recovery", "rising"),
        ("feeds.csv", "2026-03-29T07:40:00.123456+02:00", ""),
        ("readings.csv", ",24.5,", ",77,"),
        ("readings.csv", "007,1,", "008,1,"),
        ("readings.csv", "2026-03-29T08:40:00+02:00", "2026-03-29T10:10:00Z"),
        ("jars.csv", "gull", "tern"),
        ("feed_flours.csv", "rye,20", "rye,0"),
        ("cultures.csv", "gull,bread,1", "gull,bread,9"),
    ],
)
def test_frictionless_and_check_refuse_the_same(small: Experiment, file: str, before: str, after: str) -> None:
    path = small.folder / file
    text = path.read_text(encoding="utf-8")
    assert before in text
    path.write_text(text.replace(before, after), encoding="utf-8")
    assert faults(small.folder) != []
    assert small.check() != []


def test_the_package_is_data_package_two_with_a_schema_per_table(small: Experiment) -> None:
    found = described(small.folder)
    assert found["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"
    assert [licence["name"] for licence in found["licenses"]] == ["CC0-1.0"]
    assert found["time_zone"] == "Europe/Oslo"
    assert found["rule_of_recovery"] == {
        "owed_at_most_doublings": 0.5,
        "rise_at_least_fraction": 0.9,
        "feeds_in_a_row": 1,
    }
    assert found["fallow"] == {"schema_version": schema.SCHEMA_VERSION, "library_version": fallow.__version__}
    for resource in found["resources"]:
        header = (small.folder / resource["path"]).read_text(encoding="utf-8").splitlines()[0]
        assert [field["name"] for field in resource["schema"]["fields"]] == header.split(",")
        assert all(field["description"] for field in resource["schema"]["fields"])


# The columns of the record as first designed, typed here a second time: the record's format is a promise to spreadsheets.
PROMISED = {
    "cultures": "culture flour hydration_fraction pace pace_low pace_high ripening_doublings ripening_doublings_low "
    "ripening_doublings_high rise_ratio rise_ratio_low rise_ratio_high note",
    "jars": "jar culture block position treatment put_away_at out_at hold_place hold_temp_c height_unit status withdrawn note",
    "feeds": "jar feed kind at seed_g water_g water_temp_c place place_temp_c withdrawn note",
    "feed_flours": "jar feed flour grams",
    "readings": "jar feed at height streak_height dome bubbles smell ph tta_ml tta_endpoint_ph tta_sample_g temp_c "
    "withdrawn note",
    "temperatures": "place at temp_c withdrawn",
}


@pytest.mark.parametrize("name", PROMISED)
def test_each_table_has_the_promised_columns_in_order(name: str) -> None:
    assert list(schema.BY_NAME[name].names) == PROMISED[name].split()


def test_what_a_package_says_reads_back_the_same() -> None:
    package = Package(
        title="Å",
        question="q?",
        name="a",
        created="2026-01-01T00:00:00+00:00",
        time_zone="Asia/Tehran",
        invented=True,
        truth={"pace": 1.0, "seed": 7},
        flours={"t65": "T65"},
        sources=({"title": "somebody 1999"},),
        plan_columns=(schema.Column(name="seed", holds="seed", type=schema.NUMBER),),
    )
    assert read_package(write_package(package)) == (package, [])


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"time_zone": "Mars/North"}, "time_zone is 'Mars/North'; it must be an IANA time zone."),
        ({"title": 5}, "title is '5'; it must be a text."),
        ({"rule_of_recovery": {"feeds_in_a_row": "two"}}, "feeds_in_a_row is 'two'; it must be a whole number."),
        ({"rule_of_recovery": {"feeds_in_a_row": 0}}, "feeds_in_a_row is '0'; it must be from 1 to 3. Correct it in"),
        ({"rule_of_recovery": {"owed_at_most_doublings": 7}}, "owed_at_most_doublings is '7'; it must be from 0 to 5."),
        ({"rule_of_recovery": {"rise_at_least_fraction": float("nan")}}, "rise_at_least_fraction is 'nan'; it must be"),
        ({"flours": {"water": "wet"}}, "flours is 'water'; water_g is a column of feeds already"),
        ({"invented": "yes"}, "invented is 'yes'; it must be true or false."),
        ({"fallow": {"schema_version": 0}}, "keeps records of version 1. Bring back the file"),
        ({"licenses": "CC0"}, "licenses is 'CC0'; it must be a list."),
        ({"resources": 3}, "resources is '3'; it must be a list."),
    ],
)
def test_a_package_edited_by_hand_is_told_what_is_wrong(
    small: Experiment, change: dict[str, Any], sentence: str
) -> None:
    path = small.folder / "datapackage.json"
    path.write_text(json.dumps(described(small.folder) | change), encoding="utf-8")
    assert [sentence in str(problem) for problem in small.check()] == [True]


@pytest.mark.parametrize("data", [b"", b"[]", b"{", b"\xff\xfe", b"[" * 100_000, b"null", b'{"title": 1e999}'])
def test_a_package_that_is_no_package_is_one_problem(small: Experiment, data: bytes) -> None:
    (small.folder / "datapackage.json").write_bytes(data)
    problems = small.check()
    assert problems
    assert all(problem.file == "datapackage.json" for problem in problems)


def test_a_record_of_a_newer_version_is_neither_judged_nor_changed(small: Experiment) -> None:
    path = small.folder / "datapackage.json"
    newer = described(small.folder) | {"fallow": {"schema_version": 2, "library_version": "9.1.0"}}
    path.write_text(json.dumps(newer), encoding="utf-8")
    (small.folder / "jars.csv").write_text("vessel,culture\n", encoding="utf-8")
    sentence = (
        f"datapackage.json: schema_version is '2'; this Fallow ({fallow.__version__}) reads records up to version 1. Open "
        "it with Fallow 9.1.0 or newer; nothing was changed."
    )
    assert [str(problem) for problem in small.check()] == [sentence]
    for act in (lambda: small.feeds, lambda: small.add_culture(culture="tern"), lambda: small.undo()):
        with pytest.raises(ValueError, match=r"^datapackage.json: schema_version is '2'"):
            act()


def test_a_folder_copied_elsewhere_stands_on_its_own(small: Experiment, tmp_path: Path) -> None:
    copy = shutil.copytree(small.folder, tmp_path / "elsewhere", ignore=shutil.ignore_patterns(".fallow"))
    assert Experiment.open(copy).check() == []
    assert faults(copy) == []


@pytest.mark.parametrize(
    ("name", "value"), [("feeds_in_a_row", 0), ("feeds_in_a_row", 4), ("owed_at_most_doublings", -0.1)]
)
def test_a_rule_that_no_trial_can_show_is_refused(name: str, value: float) -> None:
    with pytest.raises(ValueError, match=f"{name} is {value:g}; it must be from"):
        RecoveryRule(**{name: value})
