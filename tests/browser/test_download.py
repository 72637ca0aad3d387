"""A file made at the press really arrives, byte for byte, by keyboard, once, and without leaving the machine."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

PAGE = "workbook/downloads.ipynb"
CELL = """
import ipywidgets
from fallow.panels.controls.download import Download
def refuse():
    raise ValueError("There is no plan yet; a sheet needs one. Type when you are home.")
text = Download(label="Text", file_name="grütze.txt", mime="text/plain", content=lambda: "Grütze 21 °C\\r\\n")
raw = Download(label="Bytes", file_name="all.bin", mime="application/octet-stream", content=lambda: bytes(range(256)))
none = Download(label="None", file_name="none.txt", mime="text/plain", content=refuse)
ipywidgets.VBox([text, raw, none, text])
"""


@pytest.fixture
def page(lab):
    """A page of three downloads, the first of them shown twice."""
    made = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(CELL)])
    made.metadata.kernelspec = {"name": "python3", "display_name": "Python 3", "language": "python"}
    nbformat.write(made, lab.folder / PAGE)
    opened = lab.open(PAGE)
    expect(opened.get_by_role("button", name="Text")).to_have_count(2)
    return opened


def test_files_arrive_whole_by_keyboard_and_only_once(page):
    arrived = []
    page.on("download", lambda download: arrived.append(download.suggested_filename))
    for name, file_name, content in (
        ("Text", "grütze.txt", "Grütze 21 °C\r\n".encode()),
        ("Bytes", "all.bin", bytes(range(256))),
    ):
        button = page.get_by_role("button", name=name).first
        button.focus()
        with page.expect_download() as waited:
            page.keyboard.press("Enter")
        assert waited.value.suggested_filename == file_name
        assert Path(waited.value.path()).read_bytes() == content
        expect(page.get_by_role("status").filter(has_text=f"Saved as {file_name}").first).to_be_visible()
    assert arrived == ["grütze.txt", "all.bin"]


def test_a_refusal_is_read_on_the_page(page):
    page.get_by_role("button", name="None").click()
    expect(page.get_by_role("status").filter(has_text="There is no plan yet")).to_be_visible()
