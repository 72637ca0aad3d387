"""The report: the page's own words in one file that asks no other machine for anything."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser

import pytest
from tests.panels.small import SMALL

import fallow
from fallow.panels.feeds_to_recovery.coverage import COPIES, coverage_parts, recorded
from fallow.panels.feeds_to_recovery.page import FeedsToRecovery
from fallow.panels.feeds_to_recovery.report import TITLES, report
from fallow.panels.feeds_to_recovery.study import Study
from fallow.records.experiment import Experiment

VOID = {"meta"}
FETCHING = {"script", "link", "img", "iframe", "object", "embed", "image", "use", "form", "base"}


class Read(HTMLParser):
    """Tags that stand open at the end, all tags, all attributes, and the text, as Python's own reader sees them."""

    def __init__(self, text):
        super().__init__()
        self.standing, self.tags, self.attributes, self.words = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]
        if tag not in VOID:
            self.standing.append(tag)

    def handle_endtag(self, tag):
        assert self.standing.pop() == tag

    def handle_data(self, data):
        if not self.standing or self.standing[-1] != "style":
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def experiment(root):
    return Experiment.open(root / "experiments" / "harbour-rota")


@pytest.fixture(scope="module")
def made(experiment):
    return report(experiment)


@pytest.fixture(scope="module")
def read(made):
    return Read(made)


def test_it_is_whole_and_fetches_nothing(made, read):
    assert read.standing == []
    assert set(read.tags) & FETCHING == set()
    assert not [a for a in read.attributes if a[1] in ("src", "href", "xlink:href", "srcset") or a[1].startswith("on")]
    outside = set(re.findall(r"https?://[^\s\"'<>)]+", made))
    assert outside <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert "default-src 'none'" in made
    assert "@import" not in made
    assert not re.findall(r"url\((?!#)", made)


def test_it_says_what_the_page_says(root, read):
    page = FeedsToRecovery(root / "experiments")
    saved = Read(page.report()).text
    for part in (page.answer.text, page.about.markup, page.note.markup):
        assert Read(part).text in saved
    page.turn.presses += 1
    for title in TITLES.values():
        assert (title in read.text) is (title != TITLES["rule"])
    assert page.answer.text in read.text
    for one in (*page.folds[:4], *page.folds[5:]):
        one.unfolded = True
        assert Read(one.markup).text in saved, one.title


def test_its_pictures_are_svg_with_names(made):
    pictures = re.findall(r"<svg.*?</svg>", made, re.DOTALL)
    assert len(pictures) == 2
    for picture in pictures:
        root = ET.fromstring(picture)
        assert root.attrib["role"] == "img"
        assert root[0].text == "Feeds to recovery"
        assert "invented data" in picture


def test_it_dates_its_data_and_names_its_versions(experiment, read):
    looks = experiment.readings["at"]
    assert f"Data from {looks.min():%Y-%m-%d} to" in read.text
    assert f"Made by Fallow {fallow.__version__} with Python 3." in read.text
    assert "pandas" in read.text
    assert "The data are invented" in read.text


def test_the_same_record_makes_the_same_report(experiment, made):
    assert report(experiment) == made


def test_what_stands_in_the_record_is_only_text(tmp_path):
    nasty = "<script>alert('1')</script><img src=x>"
    trial = Experiment.create(tmp_path / "odd", title=nasty, question=nasty)
    trial.add_culture(culture="gull")
    trial.add_jar(jar="<b>1</b>", culture="gull")
    made = report(trial)
    assert set(Read(made).tags) & {"script", "img", "b"} == set()
    assert nasty in Read(made).text


@pytest.mark.parametrize("name", ["one jar", "no fridge", "begun"])
def test_too_little_makes_a_report_with_the_reasons_in_place(name, tmp_path):
    made = Read(report(SMALL[name](tmp_path / "small")))
    assert made.standing == []
    assert ("nothing to count" in made.text) is (name == "begun")
    assert not re.search(r"own schedule no ", made.text)


def test_a_broken_record_is_refused_with_its_first_problem(root, tmp_path):
    trial = Experiment.create(tmp_path / "broken", title="Broken", question="?")
    (tmp_path / "broken" / "jars.csv").unlink()
    with pytest.raises(ValueError, match=r"jars\.csv"):
        report(trial)


@pytest.mark.parametrize("copy", COPIES)
def test_the_coverage_that_goes_with_the_page_is_the_long_runs_own(reference, copy):
    rows = [{**row["in"], **row["out"]} for row in reference(copy)["rows"]]
    assert json.loads(recorded(copy).to_json(orient="records")) == rows, f"copy tests/reference/{copy} beside the page"


def test_the_page_counts_what_misses_its_limit_in_the_record_of_the_long_runs(reference):
    bias = [row["out"] for row in reference("coverage_bias.json")["rows"]]
    form = [row["out"] for row in reference("coverage_debt.json")["rows"] if row["in"]["truth"] == 0]
    fitted, reduced = (sum(abs(out[way]) >= 0.15 for out in bias) for way in ("jeffreys", "adjusted"))
    missed = sum(out["covered"] < 0.85 or out["called_unrecovered"] > 0.05 for out in form)
    said = " ".join(part for part in coverage_parts() if isinstance(part, str))
    assert f"{fitted} of {len(bias)} fitted estimates lean" in said
    assert f"one side?', {reduced}." in said
    assert f"of {len(form)} kinds of kitchen {missed or 'none'} miss" in said


def test_a_study_of_nothing_has_a_report_too(tmp_path):
    page = FeedsToRecovery(tmp_path)
    assert "No experiment" in Read(page.report()).text
    assert Study.nothing().no_counts in Read(page.report()).text
