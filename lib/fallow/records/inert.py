"""Text from a record, made so that it can be shown anywhere: what cannot be seen, or turns its neighbours round, is spelled out."""

from __future__ import annotations

import re
from typing import Any

# Unicode Standard Annex 9: embeddings, overrides and isolates turn the letters after them round, so that 07:40 can read
# 04:70. Beside them what no XML may hold (XML 1.0, production 2): one such letter ends the drawing of a picture, and the
# process with it. Beside these the other control characters and the marks that end a line unseen.
_UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff]")
_MARKDOWN = re.compile(r"([\\`\[\]<&])")


def seen(text: str) -> str:
    r"""Return a text with each character that cannot be seen as its code point; emoji and letters of any script stay.

    >>> seen("ripe \u202e07:40"), seen("🍞 ripe")
    ('ripe ⟨U+202E⟩07:40', '🍞 ripe')
    """
    return _UNSEEN.sub(lambda found: f"⟨U+{ord(found[0]):04X}⟩", text) if _UNSEEN.search(text) else text


def seen_within(value: Any) -> Any:
    r"""Return lists and dictionaries, as a chart is written in, with each text and each name in them ``seen``.

    >>> seen_within({"data": [{"culture": "\x1bgull", "feed": 1}]})
    {'data': [{'culture': '⟨U+001B⟩gull', 'feed': 1}]}
    """
    if isinstance(value, str):
        return seen(value)
    if isinstance(value, dict):
        return {seen_within(name): seen_within(one) for name, one in value.items()}
    return [seen_within(one) for one in value] if isinstance(value, list) else value


def in_markdown(text: str) -> str:
    r"""Return a text as one paragraph of Markdown that shows it as it is: no markup, no link, no picture.

    >>> print(in_markdown("<b>rye</b> ![x](y)"))
    \<b>rye\</b> !\[x\](y)
    """
    return _MARKDOWN.sub(r"\\\1", seen(" ".join(text.split())))
