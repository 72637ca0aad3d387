"""The main page without a browser: its sentence, its guess, and what it says of a broken experiment."""

from __future__ import annotations

import re
import shutil

import pandas as pd
import pytest

from fallow.charts.recovery import Recovery
from fallow.panels.feeds_to_recovery.asked import FEEDS, sentence
from fallow.panels.feeds_to_recovery.page import FeedsToRecovery
from fallow.panels.feeds_to_recovery.study import experiments_in


@pytest.fixture(scope="module")
def page(root):
    return FeedsToRecovery(root / "experiments")


def test_the_sentence_carries_its_interval_in_at_most_thirty_words(page):
    said = page.answer.text
    assert re.fullmatch(r"About \d+ of 10 such jars by feed \d \(\d+ to \d+\); the ledger says \d+ of 10\.", said)
    page.days.value = 120
    assert page.answer.text.startswith("A guess")
    assert len(page.answer.text.split()) <= 30
    page.days.value = 21


def test_a_guess_begins_past_one_and_a_half_times_the_longest_hold(page):
    longest = page.study.longest_days
    for days, guess in ((int(1.5 * longest) - 1, False), (int(1.5 * longest) + 1, True)):
        page.days.value = days
        assert page.asked().is_guess(page.study) is guess
    page.days.value = 21


def test_what_the_page_says_is_what_the_fit_says(page):
    row = page.asked().row()
    direct = page.study.fit.ready_by(row, feeds=FEEDS)
    shown = pd.DataFrame(page.chart.update["data"]["counts"])
    assert shown["chance"].tolist() == pytest.approx(direct["chance"].tolist(), abs=1e-4)
    assert len(page.chart.update["data"]["jars"]) == len(page.study.jars)


def test_invented_data_is_said_on_chart_and_page(page):
    assert page.chart.update["data"]["said"] == [{"text": "invented data"}]
    assert "invented data" in page.note.markup


def test_a_broken_experiment_is_one_sentence_and_no_picture(page, root, tmp_path):
    shutil.copytree(root / "experiments" / "harbour-rota", tmp_path / "broken")
    (tmp_path / "broken" / "jars.csv").unlink()
    broken = FeedsToRecovery(tmp_path)
    assert broken.answer.trouble
    assert "jars.csv" in broken.answer.text
    assert broken.study is None
    assert {row["chance"] for row in broken.chart.update["data"]["counts"]} == {0.0}
    assert not broken.chart.update["data"]["jars"]
    broken.days.value = 30
    assert broken.answer.trouble


def test_only_folders_with_a_description_are_experiments(root, tmp_path):
    assert "harbour-rota" in experiments_in(root / "experiments")
    (tmp_path / "notes").mkdir()
    assert experiments_in(tmp_path) == []


def test_without_a_feed_that_most_reach_the_last_one_is_said():
    counts = pd.DataFrame({"feed": [1, 2], "chance": [0.1, 0.3], "low": [0.0, 0.2], "high": [0.2, 0.5]})
    shown = Recovery(counts=counts, ledger=counts.iloc[:0], jars=counts, invented=False)
    assert sentence(shown, guess=False) == "About 3 of 10 such jars by feed 2 (2 to 5)."
