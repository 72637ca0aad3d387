"""Words are thought rather too wide than too narrow, and a label goes where it lies on nothing, shorter if it must."""

from __future__ import annotations

import itertools

import pytest

from fallow.charts.lettering import Box, free_spot, placed_label, text_px, wrapped

PAPER = Box(left=0, top=0, right=300, bottom=200)
FULL, SHORT = ["ripe 20:30", "19:00 to 22:30"], ["20:30"]


@pytest.mark.parametrize("text", ["ripe 20:30 (19:00 to 22:30)", "14 g seed · 49 g flour", "WARM"])
def test_a_text_is_rather_thought_too_wide(text):
    # Helvetica's own widths (memory: Adobe core font metrics; digits 556, space 278, lower case mostly 556, W 944).
    # What Chromium really draws is held against it in tests/browser/test_letters.py.
    narrow = sum(0.278 if c in " .,:;()il" else 0.5 for c in text)
    assert text_px(text, size=10) > 10 * narrow


def test_a_part_is_never_cut():
    assert wrapped(["a very long part", "b"], width_px=20, size=11) == ["a very long part", "b"]


def test_labels_around_one_point_stand_apart():
    taken: list[Box] = []
    for _ in range(4):
        taken.append(free_spot(FULL, x_px=150, y_px=100, size=13, paper=PAPER, taken=taken))
    assert all(one.overlap(other) == 0 for one, other in itertools.combinations(taken, 2))
    assert all(box.outside(PAPER) == 0 for box in taken)


def test_a_label_goes_a_long_way_rather_than_over_another_word_s_edge():
    # Every near place is cut by one pixel of the next word; only far below or above is it free.
    near = Box(left=0, top=40, right=300, bottom=160)
    spot = free_spot(SHORT, x_px=150, y_px=100, size=13, paper=PAPER, taken=[near])
    assert spot.overlap(near) == 0


def test_where_the_full_words_have_no_room_the_hour_alone_is_said():
    wide = max(text_px(line, size=13, bold=True) for line in FULL)
    narrow = text_px(SHORT[0], size=13, bold=True)
    gate = Box(left=162 + (narrow + wide) / 2, top=0, right=300, bottom=200)
    rest = Box(left=0, top=0, right=155, bottom=200)
    label = placed_label([FULL, SHORT], x_px=150, y_px=100, size=13, paper=PAPER, taken=[gate, rest])
    assert label.lines == SHORT
    assert label.box.overlap(gate) == label.box.overlap(rest) == 0
    assert placed_label([FULL, SHORT], x_px=150, y_px=100, size=13, paper=PAPER, taken=[]).lines == FULL
