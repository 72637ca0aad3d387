"""Whatever stands in a record is text and nothing else: on pages, in pictures, on paper, in calendars, in READMEs."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import altair as alt
import icalendar
import ipywidgets
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ipywidgets.widgets.widget import _instances
from nbconvert.filters.markdown_mistune import markdown2html_mistune
from tests.charts.invented import FEEDS, two_feeds

from fallow.charts.ledger import ledger_chart
from fallow.charts.ledger_rows import ledger_rows
from fallow.charts.picture import Picture, picture
from fallow.charts.recovery import Recovery, recovery_chart
from fallow.panels.bring_back.page import BringBackPage
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.fold import Fold
from fallow.panels.controls.live import LiveChart
from fallow.panels.controls.markup import Head, markup
from fallow.panels.feeds_to_recovery.page import FeedsToRecovery
from fallow.panels.import_and_share.page import HAND_ON, METER, TAKE_IN, ImportAndShare
from fallow.panels.one_jar.page import OneJar
from fallow.panels.put_away.page import PutAwayPage
from fallow.panels.record_a_trial.page import RecordATrial
from fallow.plans.bring_back import bring_back
from fallow.plans.calendar import to_ics
from fallow.plans.sheet import kitchen_sheet_html
from fallow.records.experiment import Experiment
from fallow.records.inert import seen
from fallow.records.one_jar import begun
from fallow.records.one_jar_log import GivenFeed, log_last_feed, log_look, log_out, log_put_away, log_recovery_feed
from fallow.records.problems import Problem

ROOT = Path(__file__).resolve().parent.parent
LONG = "x" * 10_000
OVERRIDE = "kitchen \u202e07:40"
NASTY = [
    "<script>window.pwned = 1</script>",
    "<img src=x onerror=alert(1)>",
    "</td></table></p></style></svg><script>alert(1)</script>",
    '" onmouseover="alert(1)" x="',
    "' onfocus='alert(1)",
    "&lt;script&gt;alert(1)&lt;/script&gt;",
    "<svg/onload=alert(1)>",
    "javascript:alert(1)",
    '=HYPERLINK("file:///x","click")',
    "[click](javascript:alert(1)) ![x](file:///x) `code` # head",
    "<https://a.example> <b>bold</b> <!-- comment --> <![CDATA[ x ]]>",
    "datum.x + 1; ${alert(1)} {{7*7}} {% x %} %s %(x)s {0}",
    "BEGIN:VALARM\r\nACTION:PROCEDURE",
    "two\nlines\ttab",
    OVERRIDE,
    "\u2067\u2066rlo\u2069",
    "مطبخ 12:30",
    "🍞👩🏽‍🍳🇳🇴",
    "\x07\x1b[31m",
    "\ufffe\uffff\x85",
    LONG,
]
TEXTS = pytest.mark.parametrize("text", NASTY, ids=range(len(NASTY)))
HARMLESS = {"p", "h4", "div", "table", "thead", "tbody", "tr", "th", "td", "ul", "li", "b", "br", "details", "summary"}
HARMLESS |= {"strong", "em", "figure", "figcaption"}


class Reader(HTMLParser):
    """Collects the tags with their attributes, and the text."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_comment(self, data: str) -> None:
        self.tags.append(("comment", {}))

    def unknown_decl(self, data: str) -> None:
        self.tags.append(("declaration", {}))

    @property
    def text(self) -> str:
        return "".join(self.texts)


def inert(html: str) -> Reader:
    """See that a fragment holds harmless tags only, and nothing that turns its neighbours round."""
    read = Reader(html)
    assert {tag for tag, _ in read.tags} <= HARMLESS
    for _, attributes in read.tags:
        plain = {name for name in attributes if not name.startswith("aria-")}
        assert plain <= {"class", "border", "style", "scope", "colspan", "tabindex", "role"}, attributes
        assert attributes.get("style") in (None, "text-align: right;", "text-align: left;")
    unturned(html)
    return read


def unturned(text: str) -> None:
    assert not re.search("[\u202a-\u202e\u2066-\u2069]", text)


def sound_svg(svg: str) -> str:
    """See that a picture is well-formed, holds nothing that runs or is fetched, and return its words."""
    unturned(svg)
    root = ET.fromstring(svg)
    for element in root.iter():
        tag = element.tag.rsplit("}", 1)[-1]
        assert tag in {
            "svg",
            "g",
            "path",
            "text",
            "tspan",
            "rect",
            "line",
            "defs",
            "clipPath",
            "title",
            "desc",
            "linearGradient",
            "stop",
            "style",
        }, tag
        for name, value in element.attrib.items():
            plain = name.rsplit("}", 1)[-1]
            assert not plain.startswith("on")
            assert plain != "href", value
            assert "javascript:" not in value or plain in {"aria-label", "aria-roledescription"}
    return "".join(root.itertext())


@TEXTS
def test_a_note_shows_record_text_as_it_is(text: str) -> None:
    note = Note()
    note.tell(text, pd.DataFrame({text: [text, "other"], "n": [text, text]}))
    read = inert(note.markup)
    assert {tag for tag, _ in read.tags} == {"p", "table", "thead", "tbody", "tr", "th", "td"}
    assert seen(text).replace("\r\n", "\n")[:40] in read.text.replace("\r\n", "\n")
    assert seen(text)[:40] in inert(markup([Head(text), text])).text


@settings(max_examples=200)
@given(st.text())
def test_any_text_is_inert_in_a_note_and_read_back_whole(text: str) -> None:
    assert inert(markup([Head(text), text])).text == seen(text) * 2
    unturned(seen(text))
    assert seen(seen(text)) == seen(text)


def test_ten_thousand_characters_are_shown_whole_in_a_sentence() -> None:
    assert inert(markup([LONG])).text == LONG


@TEXTS
def test_an_answer_is_text_and_turns_nothing_round(text: str) -> None:
    answer = Answer()
    answer.say(text)
    unturned(answer.text)
    answer.refuse(ValueError(text))
    # A reason begins with a capital; nothing else of it is touched.
    assert answer.text.lower() == seen(text).lower()
    unturned(answer.text)


def test_only_markup_that_the_library_made_is_set_as_html() -> None:
    """Every other control writes textContent; a new innerHTML must be looked at here."""
    found = {
        (path.name, match[0])
        for path in (ROOT / "lib").rglob("*.py")
        for match in re.finditer(
            r"innerHTML[^;]*|outerHTML|insertAdjacentHTML|document\.write|eval\(|new Function",
            path.read_text(encoding="utf-8"),
        )
    }
    assert found == {("answer.py", 'innerHTML = model.get("markup")'), ("fold.py", "innerHTML = made")}
    widgets = [
        path.name
        for path in (ROOT / "lib").rglob("*.py")
        if re.search(r"ipywidgets\.HTML(?!Math\w)|IPython\.display import HTML", path.read_text(encoding="utf-8"))
    ]
    assert widgets == []


def said(text: str) -> str:
    """The start of a text as a parser of XML hands it on."""
    return seen(text)[:60].replace("\r\n", "\n")


@TEXTS
def test_a_picture_draws_record_text_as_letters_and_ends_no_process(text: str) -> None:
    rows = pd.DataFrame({"x": [1.0, 2.0], "words": [text, "other"]})
    chart = alt.Chart(rows).mark_text(limit=0).encode(x="x", text="words", color="words")
    shown = picture(chart, title=text, description=text)
    assert said(text) in sound_svg(shown.svg).replace("\r\n", "\n")
    assert len(shown.svg) < 200_000
    img = Reader(shown.img)
    assert [tag for tag, _ in img.tags] == ["img"]
    assert set(img.tags[0][1]) <= {"src", "alt", "style"}
    assert str(img.tags[0][1]["src"]).startswith("data:image/svg+xml,")


@pytest.mark.parametrize("number", [0, 2, 14, 17, 18, 19])
def test_the_signature_picture_draws_names_and_places_as_letters(number: int) -> None:
    text = NASTY[number]
    looks = pd.DataFrame({"feed": [text], "hours": [5.0], "doublings": [3.0], "label": [text]})
    whole = two_feeds()
    parts = whole.earned.assign(feed=whole.earned["feed"].replace("feed 1", text))
    feeds = FEEDS.assign(feed=[text, "feed 2"], place=[text, "kitchen"], grams=[text, "42 g seed"])
    ledger = type(whole)(axis=whole.axis, feeds=feeds, earned=parts, asleep=whole.asleep, looks=looks)
    assert said(text) in sound_svg(picture(ledger_chart(ledger), title=text, description=text).svg)
    live = LiveChart(chart=ledger_chart(ledger), description=text)
    rows = ledger_rows(ledger)
    live.feed(data=rows.data, signals=rows.signals, description=text)
    unturned(str(live.spec) + str(live.update) + live.description)


def keys(spec: Any) -> Iterator[str]:
    if isinstance(spec, dict):
        yield from spec
        for value in spec.values():
            yield from keys(value)
    elif isinstance(spec, list):
        for value in spec:
            yield from keys(value)


def test_no_picture_has_a_tooltip_a_link_or_an_image() -> None:
    table = pd.DataFrame(
        {"feed": [1, 2], "chance": [0.4, 0.8], "low": [0.2, 0.6], "high": [0.6, 0.9], "extrapolated": [False, True]}
    )
    jars = pd.DataFrame({"feed": [1, 2], "recovered": [True, False], "alike": [True, True]})
    recovery = Recovery(counts=table, ledger=table, jars=jars, invented=True)
    for chart in (ledger_chart(two_feeds()), recovery_chart(recovery)):
        assert not {"tooltip", "href", "url", "usermeta"} & set(keys(chart.to_dict()))
        sound_svg(picture(chart, title="t", description="d").svg)


@pytest.fixture(scope="module")
def plan() -> Any:
    return bring_back(
        home_at="2026-05-15T19:00+02:00",
        mix_at="2026-05-17T09:00+02:00",
        places={NASTY[0]: 22, OVERRIDE: 28, NASTY[12]: 24},
        flours={"bread": 0.7, NASTY[1]: 0.2, NASTY[2]: 0.1},
        days_held=28,
    )


def test_paper_and_calendar_hold_record_text_as_text(plan: Any) -> None:
    for title in NASTY:
        read = Reader(kitchen_sheet_html(plan, title=title))
        assert not {"script", "img", "svg", "a", "comment"} & {tag for tag, _ in read.tags}
        assert not [name for _, attributes in read.tags for name in attributes if name.startswith("on")]
        unturned(kitchen_sheet_html(plan, title=title))
    text = to_ics(plan)
    unturned(text)
    read_back = icalendar.Calendar.from_ical(text)
    kinds = {component.name for component in read_back.walk()}
    assert kinds <= {"VCALENDAR", "VEVENT", "VALARM", "VTIMEZONE", "STANDARD", "DAYLIGHT"}
    assert {str(alarm["action"]) for alarm in read_back.walk("VALARM")} <= {"DISPLAY"}


@TEXTS
def test_the_readme_of_an_experiment_shows_its_title_and_question_as_they_are(text: str, tmp_path: Path) -> None:
    record = Experiment.create(tmp_path / "e", title=text, question=text)
    rendered = markdown2html_mistune((record.folder / "README.md").read_text(encoding="utf-8"))
    read = Reader(rendered)
    assert {tag for tag, _ in read.tags} <= {"h1", "h2", "p", "a", "em", "strong", "del", "ul", "ol", "li"}
    links = [str(attributes.get("href")) for tag, attributes in read.tags if tag == "a"]
    assert all(link.startswith(("#", "https://a.example")) for link in links)
    unturned(rendered)
    assert record.check() == []


@TEXTS
def test_a_problem_is_one_line_without_control_characters(text: str) -> None:
    told = str(Problem(file="feeds.csv", row=4, column="seed_g", value=text, rule="r", next_step="n."))
    assert "\n" not in told
    assert len(told) < 250
    unturned(told)
    assert told.isprintable() or set(told) & set("🍞👩🏽‍🍳🇳🇴")


def nasty_experiment(folder: Path) -> Experiment:
    """A record with hostile text in every column of text, sound by its own rules."""
    record = Experiment.create(
        folder, title=NASTY[0], question=NASTY[1], time_zone="Europe/Oslo", flours={"t65": NASTY[0]}
    )
    rows: dict[str, list[dict[str, Any]]] = {
        name: [] for name in ("cultures", "jars", "feeds", "feed_flours", "readings", "temperatures")
    }
    for number, text in enumerate(NASTY):
        jar = f"{text.strip()}{number}"
        rows["cultures"].append({"culture": jar, "flour": text, "note": text})
        held = {"put_away_at": "2026-03-01T22:00+01:00", "out_at": "2026-03-28T18:00+01:00", "hold_temp_c": 4}
        words = {"block": text, "treatment": text, "hold_place": text, "note": text}
        rows["jars"].append({"jar": jar, "culture": jar, "height_unit": "mm", "status": "running", **held, **words})
        for feed, at in ((0, "2026-03-01T20:00+01:00"), (1, "2026-03-28T18:30+01:00")):
            grams = {"seed_g": 20, "water_g": 100, "place": text, "place_temp_c": 24, "note": text}
            rows["feeds"].append({"jar": jar, "feed": feed, "at": at, "kind": "recovery" if feed else "last", **grams})
            rows["feed_flours"].append({"jar": jar, "feed": feed, "flour": "bread", "grams": 100})
        for hour, height in ((19, 40), (22, 60), (23, 90)):
            look = {"jar": jar, "feed": 1, "at": f"2026-03-28T{hour}:30+01:00", "height": height}
            rows["readings"].append({**look, "bubbles": text, "smell": text, "note": text})
        rows["temperatures"].append({"place": f"{text}{number}", "at": "2026-03-28T18:30+01:00", "temp_c": 24})
    record.add(rows)
    assert record.check() == []
    return record


@pytest.fixture(scope="module")
def nasty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("experiments")
    nasty_experiment(home / "nasty")
    kept = begun(home, time_zone="Europe/Oslo")
    fed = {"seed_g": 20, "water_g": 100, "flours_g": {"bread": 100}, "place_temp_c": 22}
    log_last_feed(kept, GivenFeed(at=datetime(2026, 3, 1, 18, tzinfo=UTC), **fed))
    log_put_away(kept, at=datetime(2026, 3, 1, 20, tzinfo=UTC), place=OVERRIDE + NASTY[1], temp_c=4)
    log_out(kept, at=datetime(2026, 3, 28, 16, tzinfo=UTC))
    log_recovery_feed(kept, GivenFeed(at=datetime(2026, 3, 28, 17, tzinfo=UTC), **fed, height=40))
    log_look(kept, at=datetime(2026, 3, 28, 20, tzinfo=UTC), height=60, smell=NASTY[0], note=NASTY[18])
    return home


def now() -> datetime:
    return datetime(2026, 3, 29, 6, 0, tzinfo=UTC)


PAGES = {
    "feeds to recovery": FeedsToRecovery,
    "put away": lambda home: PutAwayPage(home, now=now),
    "bring back": lambda home: BringBackPage(home, now=now),
    "record a trial": lambda home: RecordATrial(home, now=now),
    "one jar": lambda home: OneJar(home, now=now, time_zone="Europe/Oslo"),
    "import and share": lambda home: ImportAndShare(home, now=now),
}


@pytest.mark.parametrize("name", PAGES)
def test_every_page_over_a_hostile_record_shows_it_as_text(name: str, nasty: Path) -> None:
    before = set(_instances)
    page = PAGES[name](nasty)
    for fold in [one for one in _instances.values() if isinstance(one, Fold)]:
        fold.unfolded = True
    if isinstance(page, ImportAndShare):
        for errand in (METER, HAND_ON, TAKE_IN):
            page.errand.value = errand
    made = [one for mark, one in _instances.items() if mark not in before]
    assert len(made) > 10
    for widget in made:
        assert not isinstance(widget, ipywidgets.HTML)
        if hasattr(widget, "markup"):
            inert(widget.markup)
        if isinstance(widget, Answer):
            unturned(widget.text)
        if isinstance(widget, LiveChart):
            unturned(str(widget.update) + widget.description)
        shown = getattr(widget, "picture", None)
        if isinstance(shown, Picture):
            sound_svg(shown.svg)


def test_the_demo_s_own_texts_are_plain() -> None:
    for path in sorted((ROOT / "experiments").glob("*/*")):
        if path.suffix in {".csv", ".md", ".json", ".jsonl"}:
            text = path.read_text(encoding="utf-8")
            assert seen(text) == text, path.name
            assert not re.search(r"<\s*(script|img|iframe|svg)\b", text, re.IGNORECASE), path.name
