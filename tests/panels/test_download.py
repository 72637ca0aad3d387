"""A download hands over exactly what was made at the press, or says why it could not."""

from __future__ import annotations

import pytest

from fallow.panels.controls.download import Download


def watched(monkeypatch, **given):
    """Return a download and the list of what it sends to the browser."""
    sent = []
    control = Download(label="Calendar", file_name="plan.ics", mime="text/calendar", **given)
    monkeypatch.setattr(control, "send", lambda content, buffers: sent.append((content, *map(bytes, buffers))))
    return control, sent


@pytest.mark.parametrize(
    ("made", "arrives"), [("Grütze 21 °C\r\n", "Grütze 21 °C\r\n".encode()), (b"\x00\xff", b"\x00\xff")]
)
def test_text_goes_as_utf_8_and_bytes_as_they_are(monkeypatch, made, arrives):
    control, sent = watched(monkeypatch, content=lambda: made)
    control.presses += 1
    assert sent == [({"kind": "file", "file_name": "plan.ics", "mime": "text/calendar"}, arrives)]
    assert (control.message, control.trouble) == (
        "Saved as plan.ics, where your browser keeps its downloads.",
        False,
    )


def test_the_content_is_made_anew_at_each_press_under_the_name_of_that_moment(monkeypatch):
    made = iter(["first", "second"])
    control, sent = watched(monkeypatch, content=lambda: next(made))
    control.presses += 1
    control.file_name = "later.ics"
    control.presses += 1
    assert [(said["file_name"], text) for said, text in sent] == [("plan.ics", b"first"), ("later.ics", b"second")]
    assert control.message.startswith("Saved as later.ics")


def test_a_reason_is_shown_and_nothing_is_sent(monkeypatch):
    def refuse():
        message = "there is no plan yet; a calendar needs one. Type when you are home"
        raise ValueError(message)

    control, sent = watched(monkeypatch, content=refuse)
    control.presses += 1
    assert (sent, control.trouble) == ([], True)
    assert control.message == "there is no plan yet; a calendar needs one. Type when you are home"


def test_a_reason_goes_away_when_the_next_press_works(monkeypatch):
    answers = iter([ValueError("not yet"), "ready"])

    def content():
        answer = next(answers)
        if isinstance(answer, ValueError):
            raise answer
        return answer

    control, sent = watched(monkeypatch, content=content)
    control.presses += 1
    control.presses += 1
    assert (len(sent), control.trouble, control.message[:8]) == (1, False, "Saved as")


def test_what_is_no_refusal_is_not_hidden(monkeypatch):
    control, _ = watched(monkeypatch, content=lambda: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        control.presses += 1
