"""Every published number is run, every file has a test, every published model has a number."""

from __future__ import annotations

import importlib
import inspect
import json
import pkgutil
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import fallow.maths
from fallow.maths.rates import PUBLISHED_CURVES, PublishedCurve
from fallow.records.reference import evaluate, reference_markdown, reference_table
from fallow.records.reference_files import read_references, resolve

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "tests" / "reference"
FILES = read_references(FOLDER)
NUMBERS = evaluate(FOLDER)

# Checks that stand nowhere in these tests, each with why; strike one out as soon as it is.
NOT_HELD_AGAINST = {
    "D1": "the ten counts behind the three sums of squares are another project's, GPL-3, and were not handed over",
    "T18": "nothing here fits a mixed model",
}
# A source that is somebody else's: what is derived, defined or chosen here needs no published number.
OWN_SOURCE = re.compile(r"Source:\s+(?!derived|our |our own choice|definition|the project|common practice|balance)")


@pytest.mark.parametrize("number", NUMBERS.to_dict("records"), ids=lambda n: f"{n['file']}: {n['row']}, {n['model']}")
def test_our_model_gives_the_published_number(number: dict[str, Any]) -> None:
    if number["disputed"]:
        assert not number["within"], "source and model agree now: strike 'disputed' from this row"
    else:
        assert number["within"], f"off by {number['deviation']:g} {number['unit']}"


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_every_file_has_a_source_a_tag_a_tolerance_and_a_test(file: Any) -> None:
    assert file.source
    assert file.title
    assert {row.get("tag", file.tag) for row in file.rows} <= {"read", "memory", "computed"}
    assert set(file.tolerance) in ({"abs"}, {"rel"})
    assert file.rows
    assert len({(row["id"], row.get("model")) for row in file.rows}) == len(file.rows), "two rows of one name"
    if file.model is None:
        test = ROOT / file.test
        assert test.exists(), f"{file.name} names a test that is not there"
        assert file.name in test.read_text(encoding="utf-8"), f"{file.test} does not use {file.name}"
    else:
        assert file.test == "tests/test_reference.py"


def published_models() -> dict[str, object]:
    """Find, by looking, each published curve and each public function of the ground floor that names a source."""
    found: dict[str, object] = {}
    for info in pkgutil.iter_modules(fallow.maths.__path__, "fallow.maths."):
        module = importlib.import_module(info.name)
        for name, thing in vars(module).items():
            if name.startswith("_"):
                continue
            if isinstance(thing, PublishedCurve):
                found[thing.name] = thing
            elif inspect.isfunction(thing) and thing.__module__ == info.name and OWN_SOURCE.search(thing.__doc__ or ""):
                found[f"{info.name}.{name}"] = thing
    return found


def models_with_numbers() -> list[object]:
    """Return each function run against a number, or the curve behind a bound method."""
    names = {str(name).split(" ")[0] for name in NUMBERS["model"]} | {name for file in FILES for name in file.covers}
    things = [resolve(name) for name in names]
    return [getattr(thing, "__self__", thing) for thing in things]


@pytest.mark.parametrize("name", sorted(published_models()))
def test_every_published_model_has_a_number(name: str) -> None:
    model = published_models()[name]
    assert any(model is thing for thing in models_with_numbers()), f"no row in tests/reference runs {name}"


def test_the_list_of_published_models_is_not_empty_talk() -> None:
    found = published_models()
    assert len([curve for curve in PUBLISHED_CURVES if curve.name in found]) == len(PUBLISHED_CURVES)
    assert len(found) > 30


def test_every_check_handed_to_us_is_somewhere_in_the_tests(shared_data: Callable[[str], Path]) -> None:
    """The list of checks stands beside the project; each id must be named in a test or a file of numbers."""
    listed = shared_data("../reference/checks.csv").read_text(encoding="utf-8")
    ids = [line.split(",")[0] for line in listed.splitlines()[1:]]
    sources = [*FOLDER.glob("*.json"), *(each for each in (ROOT / "tests").rglob("*.py") if each != Path(__file__))]
    said = "\n".join(source.read_text(encoding="utf-8") for source in sources)
    absent = {each for each in ids if not re.search(rf"\b{each}\b", said)}
    assert len(ids) > 50
    assert absent <= set(NOT_HELD_AGAINST)


def test_the_table_names_models_sources_and_deviations() -> None:
    table = reference_table(FOLDER)
    yeast = table[table["model"] == "fallow.maths.rates.GAENZLE_1998_YEAST.per_hour"]
    assert set(yeast["measured"]) == {"8 to 35 °C"}
    assert yeast["worst"].max() < 0.006
    lab = table[(table["model"] == "fallow.maths.rates.GAENZLE_1998_LAB.per_hour") & (table["disputed"] > 0)]
    assert lab["worst_disputed"].item() == pytest.approx(0.166, abs=0.001)
    text = reference_markdown(table)
    assert text.count("\n") == len(table) + 2
    assert "in dispute" in text
    assert len({line.count("|") for line in text.splitlines()}) == 1


def numbers_file(**changes: Any) -> dict[str, Any]:
    whole = {
        "title": "t",
        "source": "s",
        "tag": "read",
        "tolerance": {"abs": 0.1},
        "model": "fallow.maths.decay.half_life_days",
        "test": "tests/test_reference.py",
        "rows": [{"id": "a", "in": {"per_day": 1.0}, "out": 0.7}],
    }
    return {key: value for key, value in (whole | changes).items() if value is not ...}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "holds no .json file"),
        ("{", "must be JSON in UTF-8"),
        ("[]", "lacks title, source"),
        (numbers_file(tolerance=...), "lacks tolerance"),
        (numbers_file(model="os.getcwd"), "must lie in fallow.maths"),
        (
            numbers_file(rows=[{"id": "a", "in": {"per_day": 1.0}, "out": [1, 2]}]),
            "gives 1 numbers where 2 are printed",
        ),
    ],
    ids=["empty", "not json", "not a table", "no tolerance", "not our floor", "another shape"],
)
def test_a_broken_file_is_named(tmp_path: Path, content: Any, said: str) -> None:
    if content is not None:
        text = content if isinstance(content, str) else json.dumps(content)
        (tmp_path / "broken.json").write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=re.escape(said)):
        evaluate(tmp_path)


def test_a_wrong_number_is_found_out(tmp_path: Path) -> None:
    (tmp_path / "one.json").write_text(json.dumps(numbers_file()), encoding="utf-8")
    (tmp_path / "two.json").write_text(
        json.dumps(numbers_file(rows=[{"id": "a", "in": {"per_day": 1.0}, "out": 1.7}])), encoding="utf-8"
    )
    assert evaluate(tmp_path)["within"].tolist() == [True, False]
