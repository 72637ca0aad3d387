"""What a notebook may hold. That each runs top to bottom in a clean kernel is seen by ``python3 tests`` through nbval."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

import nbformat
import pytest
from frictionless import validate

ROOT = Path(__file__).resolve().parent.parent
PAGES = sorted(ROOT.glob("workbook/*.ipynb"))
ANALYSES = sorted(ROOT.glob("experiments/*/analysis.ipynb"))
PACKAGES = sorted(ROOT.glob("experiments/*/datapackage.json"))
# Names of XML vocabularies look like addresses; nothing is fetched from them.
OUTSIDE = re.compile(
    r"https?:\\*/\\*/(?!127\.0\.0\.1|localhost|www\.w3\.org/(?:2000/svg|1999/xlink|1999/xhtml))[^\s\"'<>]+"
)


def name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def read(path: Path) -> nbformat.NotebookNode:
    return nbformat.read(path, as_version=4)


def code(path: Path) -> list[nbformat.NotebookNode]:
    return [cell for cell in read(path).cells if cell.cell_type == "code"]


def test_there_are_pages_and_the_first_one_is_where_the_command_opens() -> None:
    assert ROOT / "workbook" / "start.ipynb" in PAGES
    assert "workbook/start.ipynb" in (ROOT / "workbook" / "__main__.py").read_text(encoding="utf-8")


def test_the_first_page_leads_to_every_other_page_and_nowhere_else() -> None:
    start = ROOT / "workbook" / "start.ipynb"
    links = re.findall(r"\]\(([^)#]+)\)", "\n".join(cell.source for cell in read(start).cells))
    found = {(start.parent / link).resolve() for link in links}
    assert {path for path in PAGES if path != start} <= found
    assert all(path.is_file() for path in found)


def test_the_readme_names_every_page_and_no_other() -> None:
    named = set(re.findall(r"`(workbook/\w+\.ipynb)`", (ROOT / "README.md").read_text(encoding="utf-8")))
    assert named == {name(path) for path in PAGES}


@pytest.mark.parametrize("path", [*PAGES, *ANALYSES], ids=name)
class TestEveryNotebook:
    def test_is_sound_and_names_the_plain_kernel(self, path: Path) -> None:
        book = read(path)
        nbformat.validate(book)
        assert book.metadata.kernelspec.name == "python3"
        assert "version" not in book.metadata.get("language_info", {}), "strip the version: it differs by machine"

    def test_code_cells_are_short(self, path: Path) -> None:
        long = [cell.source for cell in code(path) if len(cell.source.splitlines()) > 8]
        assert long == []

    def test_no_widget_state_is_stored(self, path: Path) -> None:
        assert "widgets" not in read(path).metadata

    def test_no_output_names_an_outside_address(self, path: Path) -> None:
        found = [OUTSIDE.findall(json.dumps(cell.outputs, ensure_ascii=False)) for cell in code(path)]
        assert [address for each in found for address in each] == []


@pytest.mark.parametrize("path", PAGES, ids=name)
class TestPages:
    def test_are_stored_without_outputs(self, path: Path) -> None:
        assert all(cell.outputs == [] and cell.execution_count is None for cell in code(path))

    def test_define_nothing(self, path: Path) -> None:
        kinds = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda)
        for cell in code(path):
            assert not [node for node in ast.walk(ast.parse(cell.source)) if isinstance(node, kinds)], cell.source


@pytest.mark.parametrize("path", ANALYSES, ids=name)
class TestAnalyses:
    def test_are_stored_as_one_run_left_them(self, path: Path) -> None:
        """A cell without its count would be run by nbval but not compared."""
        assert [cell.execution_count for cell in code(path)] == list(range(1, len(code(path)) + 1))
        assert any(cell.outputs for cell in code(path))

    def test_hold_no_error_and_no_warning(self, path: Path) -> None:
        outputs = [output for cell in code(path) for output in cell.outputs]
        assert not [o for o in outputs if o.output_type == "error" or o.get("name") == "stderr"]


@pytest.mark.parametrize("address", ["http://a.example/x", "https://a.example", "https:\\/\\/a.example"])
def test_an_outside_address_would_be_seen(address: str) -> None:
    assert OUTSIDE.search(json.dumps({"text": f"see <img src='{address}'>"}, ensure_ascii=False))


def test_a_picture_s_own_vocabulary_is_no_address() -> None:
    assert not OUTSIDE.search('<svg xmlns="http://www.w3.org/2000/svg">')


@pytest.mark.parametrize("path", PACKAGES, ids=name)
def test_experiments_are_sound_data_packages(path: Path) -> None:
    """Judged by frictionless, a general validator of the open Data Package standard."""
    report = validate(str(path))
    assert report.valid, report.to_summary()
