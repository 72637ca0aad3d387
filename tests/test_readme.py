"""The README shows today's code: its picture and its table are what the library gives."""

from __future__ import annotations

from tests.readme import PICTURE, README, picture_svg, readme_text


def test_the_table_of_models_is_fresh() -> None:
    assert README.read_text(encoding="utf-8") == readme_text(), "run tests/readme.py"


def test_the_picture_is_fresh() -> None:
    assert PICTURE.read_text(encoding="utf-8") == picture_svg(), "run tests/readme.py"
