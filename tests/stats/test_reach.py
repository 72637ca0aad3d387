"""A forecast beyond the record says that it is a guess: one and a half times the longest hold, a degree beyond the fridges."""

from __future__ import annotations

import pandas as pd
import pytest

from fallow.stats.reach import beyond, guess_sentences, on_record

RECORD = {"days_held": (4.0, 56.0), "hold_temp_c": (3.0, 7.0), "place_temp_c": (22.0, 22.0)}


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"days_held": 84}, []),
        ({"days_held": 84.1}, ["The longest hold on record is 56 days."]),
        ({"hold_temp_c": 2}, []),
        ({"hold_temp_c": 1.9}, ["The fridges on record were at 3 to 7 °C."]),
        ({"hold_temp_c": 8.1}, ["The fridges on record were at 3 to 7 °C."]),
        ({"place_temp_c": 24}, ["The places of recovery on record were at 22 °C."]),
        (
            {"days_held": 90, "hold_temp_c": 9},
            ["The longest hold on record is 56 days.", "The fridges on record were at 3 to 7 °C."],
        ),
        ({}, []),
    ],
)
def test_it_says_what_the_record_does_not_reach(asked, said):
    assert [long for _, long in beyond(asked, recorded=RECORD)] == said


def test_without_a_jar_everything_is_a_guess_and_what_nobody_wrote_down_is_said():
    nothing = on_record(pd.DataFrame(columns=["days_held", "hold_temp_c"]))
    assert nothing == {}
    assert beyond({"days_held": 3}, recorded=nothing)[0][0] == "no jar is on record"
    part = on_record(pd.DataFrame({"days_held": [7.0, 56.0], "hold_temp_c": [None, float("nan")]}))
    [(short, _)] = beyond({"days_held": 3, "hold_temp_c": 4}, recorded=part)
    assert short == "a temperature is missing on record"


def test_only_the_first_sentence_says_guess():
    why = beyond({"days_held": 90, "hold_temp_c": 9}, recorded=RECORD)
    first, second = guess_sentences(why)
    assert first.startswith("This is a guess. The longest")
    assert second.startswith("The fridges")
    assert guess_sentences([]) == []
