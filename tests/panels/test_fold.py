"""A section is made when it is unfolded, once; what it says is only text."""

from __future__ import annotations

import pandas as pd

from fallow.panels.controls.fold import Fold
from fallow.panels.controls.markup import Figure, Head, markup


def counting(parts):
    calls = []

    def content():
        calls.append(1)
        return parts

    return calls, Fold(title="Why", content=content)


def test_content_is_made_when_it_is_unfolded_and_kept():
    calls, fold = counting(["because"])
    assert (calls, fold.markup) == ([], "")
    fold.unfolded = True
    assert fold.markup == "<p>because</p>"
    fold.unfolded = False
    fold.unfolded = True
    assert len(calls) == 1


def test_renewed_it_is_made_again_only_where_somebody_looks():
    calls, fold = counting(["because"])
    fold.renew()
    assert calls == []
    fold.unfolded = True
    fold.renew()
    assert len(calls) == 2
    fold.unfolded = False
    fold.renew()
    assert (len(calls), fold.markup) == (2, "")


def test_a_refusal_is_its_sentence():
    def content():
        message = "no jar <i>yet</i>"
        raise ValueError(message)

    fold = Fold(title="Why", content=content)
    fold.unfolded = True
    assert fold.markup == '<p class="fallow-message">no jar &lt;i&gt;yet&lt;/i&gt;</p>'


def test_texts_heads_captions_and_cells_are_only_text():
    nasty = "<script>alert(1)</script>"
    made = markup([nasty, Head(nasty), pd.DataFrame({nasty: [nasty]}), Figure(svg="<svg></svg>", caption=nasty)])
    assert "<script" not in made
    assert made.count("&lt;script&gt;") == 5
    assert markup([pd.DataFrame({"a": []}), ""]) == ""


def test_it_lets_go_of_its_model_and_keeps_its_keys():
    assert Fold._esm.count("model.on(") == Fold._esm.count("model.off(")
    assert "event.stopPropagation()" in Fold._esm
