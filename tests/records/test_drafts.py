"""What was typed and not saved is there again, whole, whatever happens to the writer."""

from __future__ import annotations

import json
import os
import select
import signal
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fallow.records import drafts
from fallow.records.drafts import Draft, drafts_path, keep_drafts, read_drafts

THEN = datetime(2026, 12, 3, 17, 40, tzinfo=UTC)


def test_a_text_is_kept_with_the_moment_it_was_typed_and_let_go_when_empty(small):
    keep_drafts(small.folder, texts={"height": "47", "note": "=HYPERLINK(1) <b>\n\u202e🥖"}, typed_at=THEN)
    keep_drafts(small.folder, texts={"height": "48,5"}, typed_at=THEN)
    assert read_drafts(small.folder) == {
        "height": Draft(text="48,5", typed_at=THEN),
        "note": Draft(text="=HYPERLINK(1) <b>\n\u202e🥖", typed_at=THEN),
    }
    keep_drafts(small.folder, texts={"height": "", "note": ""}, typed_at=THEN)
    assert read_drafts(small.folder) == {}


def test_drafts_are_no_part_of_the_record(small, bytes_of):
    before = {name: data for name, data in bytes_of(small.folder).items() if not name.startswith(".fallow")}
    keep_drafts(small.folder, texts={"height": "47"}, typed_at=THEN)
    assert {name: data for name, data in bytes_of(small.folder).items() if not name.startswith(".fallow")} == before
    assert (small.folder / ".fallow" / ".gitignore").read_text() == "*\n"
    assert small.check() == []


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b"[]", b'{"a": 1}', b'{"a": {"text": "x"}}', b'{"a": {"text": "x", "typed_at": "2026-12-03T17:40"}}', b"\xff", b"[" * 5000],
)  # fmt: skip
def test_a_file_that_is_not_ours_is_refused_and_not_written_over(small, data):
    keep_drafts(small.folder, texts={"height": "47"}, typed_at=THEN)
    drafts_path(small.folder).write_bytes(data)
    for act in (
        lambda: read_drafts(small.folder),
        lambda: keep_drafts(small.folder, texts={"height": "48"}, typed_at=THEN),
    ):
        with pytest.raises(ValueError, match=r"holds no drafts of this library .* Move the file away"):
            act()
    assert drafts_path(small.folder).read_bytes() == data
    assert small.check() == []


def test_an_endless_text_is_refused_in_words(small):
    with pytest.raises(ValueError, match="Paste it in parts"):
        keep_drafts(small.folder, texts={"rows": "x" * (drafts.LONGEST + 1)}, typed_at=THEN)
    assert read_drafts(small.folder) == {}


def test_a_full_disk_is_told_and_leaves_the_draft_before(small, monkeypatch):
    keep_drafts(small.folder, texts={"height": "47"}, typed_at=THEN)

    def full(self, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(ValueError, match=r"No space left on device.*save at once"):
        keep_drafts(small.folder, texts={"height": "48"}, typed_at=THEN)
    monkeypatch.undo()
    assert read_drafts(small.folder)["height"].text == "47"


def test_two_pages_that_type_at_once_lose_nothing(small):
    def typed(page):
        for number in range(20):
            keep_drafts(small.folder, texts={f"{page} {number}": str(number)}, typed_at=THEN)

    pages = [threading.Thread(target=typed, args=(name,)) for name in ("one", "two")]
    for page in pages:
        page.start()
    for page in pages:
        page.join()
    assert len(read_drafts(small.folder)) == 40


def test_a_writer_killed_at_any_moment_leaves_the_text_before_or_after(small):
    long = "x" * 50_000
    for round_number in range(12):
        heard, said = os.pipe()
        child = os.fork()
        if child == 0:
            number = 0
            while True:
                keep_drafts(small.folder, texts={"rows": f"{number} {long}"}, typed_at=THEN)
                os.write(said, b"%d\n" % number)
                number += 1
        os.close(said)
        told = os.read(heard, 65536)
        select.select([], [], [], 0.003 * round_number)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        while more := os.read(heard, 65536):
            told += more
        os.close(heard)
        number, text = read_drafts(small.folder)["rows"].text.split(" ")
        assert text == long
        assert int(number) - int(told.split()[-1]) in (0, 1)
    assert json.loads(drafts_path(small.folder).read_bytes())
