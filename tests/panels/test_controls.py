"""Controls keep what was typed, refuse in words, and send a chart its numbers only."""

from __future__ import annotations

import pandas as pd
import pytest
import traitlets
from tests.charts.invented import two_feeds

from fallow.charts.ledger import dressed_with
from fallow.charts.ledger_rows import ledger_rows
from fallow.panels.controls import live
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.download import Download
from fallow.panels.controls.field import NumberField, number
from fallow.panels.controls.page import More
from fallow.panels.controls.slide import Slide
from fallow.panels.controls.temperature import temperature_field


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("21,5", 21.5),
        ("21.5", 21.5),
        ("  ", None),
        ("", None),
        ("-4", -4.0),
        ("−4", -4.0),
        (".5", 0.5),
        ("1\u00a0000", 1000.0),
    ],
)
def test_numbers_as_people_type_them(typed, read):
    assert number(typed) == read


@pytest.mark.parametrize("typed", ["1.500,0", "12 g", "nan", "1e3", "--2", "4,"[:1] + ",,"])
def test_what_is_no_number_is_refused_with_the_text_seen(typed):
    with pytest.raises(ValueError, match="is not a number") as refused:
        number(typed)
    assert repr(typed) in str(refused.value)


def test_an_empty_field_is_none_and_an_impossible_one_stays_visible_with_its_reason():
    field = NumberField(label="Temperature", unit="°C", low=-5, high=45)
    assert field.value is None
    field.text = "21,5"
    assert field.value == 21.5
    field.text = "77"
    assert (field.text, field.value) == ("77", None)
    assert field.message == "Temperature is 77; it goes from -5 to 45 °C. Correct it, or leave it empty."
    field.text = ""
    assert (field.value, field.message) == (None, "")


# NIST SP 811, appendix B: t/°C = (t/°F - 32)/1.8; 32 °F freezes, 98.6 °F is blood heat, at -40 the two scales meet.
@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("72 F", 22.2),
        ("72°F", 22.2),
        ("72 \u2109", 22.2),
        ("98,6 fahrenheit", 37.0),
        ("32f", 0.0),
        ("\u221240 °F", -40.0),
    ],
)
def test_fahrenheit_is_converted_once_and_shown_back(typed, read):
    field = temperature_field(label="Warm box", low=-50, high=45, empty="none")
    field.shown = "beside the oven"
    field.text = typed
    assert (field.text, field.value, field.message) == (typed, read, "")
    assert field.shown == f"read as {read:g} °C"
    field.text = "21"
    assert (field.value, field.shown) == (21.0, "beside the oven")


def test_what_an_empty_box_means_stands_below_it_and_in_no_message():
    field = temperature_field(label="Warm box", low=0, high=45, empty="none")
    assert (field.unit, field.shown) == ("°C", "empty: none")
    field.text = "80"
    assert field.message == "Warm box is 80; it goes from 0 to 45 °C. If this was Fahrenheit, write 80 °F."
    field.text = "27"
    assert (field.message, field.shown) == ("", "empty: none")


@pytest.mark.parametrize(
    ("typed", "read"), [("22", 22), ("22,5 °C", 22.5), ("22 c", 22), ("22°", 22), ("22 \u2103", 22), (" ", None)]
)
def test_celsius_needs_no_unit_and_may_have_one(typed, read):
    field = temperature_field(label="Warm box", low=-5, high=45, text=typed)
    assert (field.value, field.message, field.shown) == (read, "", "")
    assert not field.numeric, "a phone must show its letters for an F"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("72", "Warm box is 72; it goes from -5 to 45 °C. If this was Fahrenheit, write 72 °F."),
        ("150", "Warm box is 150; it goes from -5 to 45 °C. Correct it, or leave it empty."),
        ("200 F", "Warm box is 200 F, read as 93.3 °C; it goes from -5 to 45 °C. Correct it, or leave it empty."),
        ("F", "'F' has no number; a temperature takes digits. Write it as in 22 or 72 °F."),
        ("warm", "'warm' is not a number; it takes digits and one decimal mark. Leave it empty if not known."),
        ("hot F", "'hot F' is not a number; it takes digits and one decimal mark. Leave it empty if not known."),
    ],
)
def test_a_temperature_that_cannot_be_is_refused_with_what_to_write(typed, said):
    field = temperature_field(label="Warm box", low=-5, high=45, text=typed)
    assert (field.value, field.message, field.shown) == (None, said, "")


def test_a_slider_refuses_what_lies_outside_its_ends():
    slide = Slide(label="Days held", unit="days", low=1, high=60, step=1, value=21)
    with pytest.raises(ValueError, match="Days held is 90; it goes from 1 to 60 days"):
        slide.value = 90
    assert slide.value == 21


def test_a_choice_is_one_of_its_options():
    choice = Choice(label="Experiment", options=["harbour-rota", "mine"])
    assert choice.value == "harbour-rota"
    with pytest.raises(ValueError, match="Choose one of these"):
        choice.value = "theirs"
    with pytest.raises(ValueError, match="nothing to choose from"):
        Choice(label="Experiment", options=[])


def test_a_button_calls_its_method_and_hides_no_failure():
    pressed = []
    button = Button(label="Pin", act=lambda: pressed.append(1))
    button.presses += 1
    assert pressed == [1]

    def fail():
        message = "the jar is empty"
        raise ValueError(message)

    with pytest.raises(ValueError, match="the jar is empty"):
        Button(label="Pin", act=fail).presses += 1


def test_an_answer_is_one_sentence_or_the_reason_for_none():
    answer = Answer()
    answer.refuse(ValueError("31 °C is above 30 °C"))
    assert (answer.text, answer.trouble) == ("31 °C is above 30 °C", True)
    answer.say("Ripe about 07:40.")
    assert (answer.text, answer.trouble) == ("Ripe about 07:40.", False)


def test_notes_show_text_as_text():
    note = Note()
    note.tell("<b>rye</b>", pd.DataFrame({"flour": ["<i>rye</i>"], "grams": [20]}), "")
    assert "<p>&lt;b&gt;rye&lt;/b&gt;</p>" in note.markup
    assert "&lt;i&gt;rye&lt;/i&gt;" in note.markup
    assert note.markup.count("<p>") == 1


def test_more_folds_and_unfolds():
    more = More([Slide(label="a", unit="", low=0, high=1, step=1, value=0)])
    assert more.inside.layout.display == "none"
    more.switch.presses += 1
    assert (more.inside.layout.display, more.switch.label) == ("grid", "Less")


def test_a_live_chart_is_described_once_and_then_fed():
    rows = ledger_rows(two_feeds())
    chart = live.LiveChart(chart=dressed_with(rows), description="two feeds")
    spec = chart.spec
    chart.feed(data=rows.data, signals=rows.signals, description="moved")
    assert chart.spec is spec
    assert set(spec["datasets"]) - {"empty"} == set(chart.update["data"])
    assert set(chart.update["signals"]) == {param["name"] for param in spec["params"]}
    assert chart.description == "moved"


def test_the_script_with_vega_is_bundled_once_and_kept_whole(tmp_path, monkeypatch):
    made = []

    def bundle(script, vl_version):
        made.append(vl_version)
        return f"// bundled\n{script}"

    monkeypatch.setattr(live.vl_convert, "javascript_bundle", bundle)
    monkeypatch.setattr(live.sys, "prefix", str(tmp_path))
    live.script.cache_clear()
    first = live.script()
    live.script.cache_clear()
    assert live.script() == first
    assert len(made) == 1
    assert [path.suffix for path in (tmp_path / "share" / "fallow").iterdir()] == [".js"]
    live.script.cache_clear()


@pytest.mark.parametrize("control", [Slide, NumberField, Choice, Button, Download, Answer, Note])
def test_every_control_lets_go_of_its_model_when_it_is_removed(control):
    assert control._esm.count("model.on(") == control._esm.count("model.off(")
    assert issubclass(control, traitlets.HasTraits)


@pytest.mark.parametrize("control", [Slide, NumberField, Choice, Button, Download])
def test_keys_pressed_in_a_control_stay_there(control):
    assert "event.stopPropagation()" in control._esm


@pytest.mark.parametrize(
    ("error", "shown"),
    [
        ("kitchen is 31 °C; let it cool.", "Kitchen is 31 °C; let it cool."),
        ("feeds.csv: feed is '0'; mend it.", "feeds.csv: feed is '0'; mend it."),
        ("temp_c is 90; write less.", "temp_c is 90; write less."),
    ],
)
def test_a_reason_begins_with_a_capital_unless_a_name_begins_it(error, shown):
    answer = Answer()
    answer.refuse(ValueError(error))
    assert (answer.text, answer.trouble) == (shown, True)
