"""Every page of the workbook on one folder of experiments: what one leaves there never trips another."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fallow.panels.bring_back.page import BringBackPage
from fallow.panels.feed_bench.page import FeedBench
from fallow.panels.feeds_to_recovery.page import FeedsToRecovery
from fallow.panels.import_and_share.page import HAND_ON, ImportAndShare
from fallow.panels.one_jar.page import OneJar
from fallow.panels.put_away.page import PutAwayPage
from fallow.panels.record_a_trial.page import NEW, RecordATrial
from fallow.records.experiment import Experiment

ROOT = Path(__file__).resolve().parent.parent.parent
NOW = datetime(2026, 12, 3, 18, 0, tzinfo=UTC)


def now():
    return NOW


def use_one_jar(folder):
    page = OneJar(folder, now=now, time_zone="Europe/Berlin")
    assert not page.logbook.said.trouble, page.logbook.said.text
    if page.logbook.standing is None:
        feed = page.logbook.feed
        feed.at.text, feed.seed.text, feed.water.text, feed.flours["bread"].text = "18:00", "20", "40", "40"
        page.logbook.save_feed()
        page.form.kitchen.text = "23"
    assert page.form.kitchen.text == "23"
    assert not page.answer.trouble, page.answer.text


def use_bring_back(folder):
    page = BringBackPage(folder, now=now, time_zone="Europe/Berlin")
    assert not page.keep.said.trouble, page.keep.said.text
    assert not page.answer.trouble, page.answer.text
    page.hold_on()


def use_record_a_trial(folder):
    page = RecordATrial(folder, now=now)
    page.experiment.value = NEW
    page.new.title.typed = page.new.title.text = "Rye or white"
    for name in page.experiment.options[:-1]:
        page.experiment.value = name
        assert not page.answer.trouble, page.answer.text
        for card in page.grid.children:
            card.height.typed = "47"
            card.feed.switch.presses += 1
            card.about_jar.switch.presses += 1
            card.more.switch.presses += 1
        page.new_jar.switch.presses += 1
        page.paste.switch.presses += 1


def use_put_away(folder):
    page = PutAwayPage(folder, now=now)
    assert not page.answer.trouble, page.answer.text
    page.keep.experiment.value = "mine"
    page.keep.save()
    assert not page.keep.said.trouble, page.keep.said.text


def use_feeds_to_recovery(folder):
    page = FeedsToRecovery(folder)
    for name in page.experiment.options:
        page.experiment.value = name
        assert not page.answer.trouble, page.answer.text


def use_import_and_share(folder):
    page = ImportAndShare(folder, now=now)
    page.errand.value = HAND_ON
    for name in page.experiment.options:
        page.experiment.value = name
        assert not page.trouble.trouble, page.trouble.text


def use_feed_bench(_folder):
    assert not FeedBench().answer.trouble


USES = {
    "one_jar": use_one_jar,
    "bring_back": use_bring_back,
    "record_a_trial": use_record_a_trial,
    "put_away": use_put_away,
    "feeds_to_recovery": use_feeds_to_recovery,
    "import_and_share": use_import_and_share,
    "feed_bench": use_feed_bench,
}


@pytest.fixture
def folder(tmp_path):
    mine = Experiment.create(tmp_path / "mine", title="Mine", question="Does rye help?", time_zone="Europe/Berlin")
    mine.add_culture(culture="gull")
    mine.add_jar(jar="A1", culture="gull", status="running")
    mine.add_feed(jar="A1", feed=1, at=NOW, seed_g=20, water_g=40, flours_g={"bread": 40}, kind="baseline")
    return tmp_path


def test_every_page_of_the_workbook_is_used_here():
    pages = set()
    for notebook in (ROOT / "workbook").glob("*.ipynb"):
        pages |= set(re.findall(r"from fallow\.panels\.(\w+)\.page import", notebook.read_text(encoding="utf-8")))
    assert pages == set(USES)


def test_every_page_is_used_after_every_other(folder):
    for name in (*USES, *reversed(USES)):
        USES[name](folder)
    for name in ("mine", "my-starter"):
        assert Experiment.open(folder / name).check() == []


@pytest.mark.parametrize("name", list(USES))
def test_a_page_opens_on_a_folder_where_all_the_others_were_used(folder, name):
    for other in USES:
        if other != name:
            USES[other](folder)
    USES[name](folder)
