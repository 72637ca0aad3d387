"""The fixture ``lab``: Fallow's own JupyterLab in Chromium. How to use it stands in lab.py."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import nbformat
import pytest
from playwright.sync_api import Browser, sync_playwright
from tests.browser.lab import CHROMIUM_ARGUMENTS, Lab, Server, chromium
from tests.conftest import missing

FAILED = pytest.StashKey[bool]()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    """Remember for the fixture whether its test failed."""
    report = yield
    item.stash[FAILED] = item.stash.get(FAILED, False) or report.failed
    return report


# One browser and one server a module: longer-lived ones would leave an event loop under other modules' tests.
@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start Chromium, headless."""
    found = chromium()
    if found is None:
        missing("Chromium")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=found, headless=True, args=CHROMIUM_ARGUMENTS)
        yield started
        started.close()


@pytest.fixture(scope="module")
def lab_server(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Serve a copy of the project."""
    server = Server(tmp_path_factory.mktemp("lab"))
    yield server
    server.stop()


@pytest.fixture
def lab(lab_server: Server, browser: Browser, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Lab]:
    """Give one test its own browser context, and let nothing that left the machine or broke in the page go by."""
    pictures = Path(os.environ.get("FALLOW_PICTURES") or tmp_path)
    pictures.mkdir(parents=True, exist_ok=True)
    opened = Lab.start(lab_server, browser, pictures)
    yield opened
    if request.node.stash.get(FAILED, False):
        for number, page in enumerate(opened.context.pages):
            print("screenshot:", opened.picture(page, f"failed-{request.node.name}-{number}"))
        print("console:", *opened.console[-20:], "server log:", opened.log()[-2000:], sep="\n")
    opened.close()
    assert opened.outside == []
    assert opened.errors == []


@pytest.fixture
def write_page(lab: Lab) -> Callable[..., str]:
    """Write a notebook into the copy, one code cell for each source."""

    def write(*sources: str, hidden: bool = False) -> str:
        hide = {"jupyter": {"source_hidden": True}} if hidden else {}
        cells = [nbformat.v4.new_code_cell(source, metadata=hide) for source in sources]
        page = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell("# A page"), *cells])
        page.metadata.kernelspec = {"name": "python3", "display_name": "Python 3", "language": "python"}
        nbformat.write(page, lab.folder / "workbook" / "written.ipynb")
        return "workbook/written.ipynb"

    return write
