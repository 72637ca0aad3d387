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
from fallow.records.drafts import Draft, Page, drafts_path, keep_drafts, read_drafts

THEN = datetime(2026, 12, 3, 17, 40, tzinfo=UTC)
BOOK = Page.TRIAL_BOOK


def test_a_text_is_kept_with_the_moment_it_was_typed_and_let_go_when_empty(small):
    keep_drafts(
        small.folder, page=BOOK, texts={("height",): "47", ("note",): "=HYPERLINK(1) <b>\n\u202e🥖"}, typed_at=THEN
    )
    keep_drafts(small.folder, page=BOOK, texts={("height",): "48,5"}, typed_at=THEN)
    assert read_drafts(small.folder, page=BOOK) == {
        ("height",): Draft(text="48,5", typed_at=THEN),
        ("note",): Draft(text="=HYPERLINK(1) <b>\n\u202e🥖", typed_at=THEN),
    }
    keep_drafts(small.folder, page=BOOK, texts={("height",): "", ("note",): ""}, typed_at=THEN)
    assert read_drafts(small.folder, page=BOOK) == {}


def test_each_page_sees_its_own_drafts_whatever_the_others_keep(small):
    place = ("A1", "look", 'a "height", [all] of it')
    for page in Page:
        keep_drafts(small.folder, page=page, texts={(): f"whole {page.value}", place: page.value}, typed_at=THEN)
    for page in Page:
        assert {where: draft.text for where, draft in read_drafts(small.folder, page=page).items()} == {
            (): f"whole {page.value}",
            place: page.value,
        }
    keep_drafts(small.folder, page=Page.ONE_JAR, texts={(): "", place: ""}, typed_at=THEN)
    assert [len(read_drafts(small.folder, page=page)) for page in Page] == [2, 2, 0]


def test_files_of_the_days_before_pages_stood_in_the_keys_are_read_and_kept(small):
    one = {"text": "x", "typed_at": THEN.isoformat()}
    old = {'["A1", "look", "height"]': one, "bring back": one, "one jar": one, '["", ': one, "another page": one}
    drafts_path(small.folder).write_text(json.dumps(old), encoding="ascii")
    read = {page: set(read_drafts(small.folder, page=page)) for page in Page}
    assert read == {Page.TRIAL_BOOK: {("A1", "look", "height")}, Page.BRING_BACK: {()}, Page.ONE_JAR: {()}}
    keep_drafts(small.folder, page=BOOK, texts={("A1", "look", "height"): ""}, typed_at=THEN)
    left = json.loads(drafts_path(small.folder).read_bytes())
    assert set(left) == {"bring back", "one jar", 'record a trial ["", ', "another page"}


def test_drafts_are_no_part_of_the_record(small, bytes_of):
    before = {name: data for name, data in bytes_of(small.folder).items() if not name.startswith(".fallow")}
    keep_drafts(small.folder, page=BOOK, texts={("height",): "47"}, typed_at=THEN)
    assert {name: data for name, data in bytes_of(small.folder).items() if not name.startswith(".fallow")} == before
    assert (small.folder / ".fallow" / ".gitignore").read_text() == "*\n"
    assert small.check() == []


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b"[]", b'{"a": 1}', b'{"a": {"text": "x"}}', b'{"a": {"text": "x", "typed_at": "2026-12-03T17:40"}}', b"\xff", b"[" * 5000],
)  # fmt: skip
def test_a_file_that_is_not_ours_is_refused_and_not_written_over(small, data):
    keep_drafts(small.folder, page=BOOK, texts={("height",): "47"}, typed_at=THEN)
    drafts_path(small.folder).write_bytes(data)
    for act in (
        lambda: read_drafts(small.folder, page=BOOK),
        lambda: keep_drafts(small.folder, page=BOOK, texts={("height",): "48"}, typed_at=THEN),
    ):
        with pytest.raises(ValueError, match=r"holds no drafts of this library .* Move the file away"):
            act()
    assert drafts_path(small.folder).read_bytes() == data
    assert small.check() == []


def test_an_endless_text_is_refused_in_words(small):
    with pytest.raises(ValueError, match="Paste it in parts"):
        keep_drafts(small.folder, page=BOOK, texts={("rows",): "x" * (drafts.LONGEST + 1)}, typed_at=THEN)
    assert read_drafts(small.folder, page=BOOK) == {}


def test_a_full_disk_is_told_and_leaves_the_draft_before(small, monkeypatch):
    keep_drafts(small.folder, page=BOOK, texts={("height",): "47"}, typed_at=THEN)

    def full(self, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(ValueError, match=r"No space left on device.*save at once"):
        keep_drafts(small.folder, page=BOOK, texts={("height",): "48"}, typed_at=THEN)
    monkeypatch.undo()
    assert read_drafts(small.folder, page=BOOK)[("height",)].text == "47"


def test_two_pages_that_type_at_once_lose_nothing(small):
    def typed(page):
        for number in range(20):
            keep_drafts(small.folder, page=BOOK, texts={(page, str(number)): str(number)}, typed_at=THEN)

    pages = [threading.Thread(target=typed, args=(name,)) for name in ("one", "two")]
    for page in pages:
        page.start()
    for page in pages:
        page.join()
    assert len(read_drafts(small.folder, page=BOOK)) == 40


def test_a_writer_killed_at_any_moment_leaves_the_text_before_or_after(small):
    long = "x" * 50_000
    for round_number in range(12):
        heard, said = os.pipe()
        child = os.fork()
        if child == 0:
            number = 0
            while True:
                keep_drafts(small.folder, page=BOOK, texts={("rows",): f"{number} {long}"}, typed_at=THEN)
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
        number, text = read_drafts(small.folder, page=BOOK)[("rows",)].text.split(" ")
        assert text == long
        assert int(number) - int(told.split()[-1]) in (0, 1)
    assert json.loads(drafts_path(small.folder).read_bytes())
