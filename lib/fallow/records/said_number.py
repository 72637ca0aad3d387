"""How a number of things is said."""

from __future__ import annotations


def counted(count: int, what: str) -> str:
    """Return a number of things.

    >>> counted(0, "jar"), counted(1, "jar"), counted(2, "jar")
    ('no jar', '1 jar', '2 jars')
    """
    return f"{count or 'no'} {what}" if count < 2 else f"{count} {what}s"
