"""Tips that show texts from files as they are written."""

from __future__ import annotations

from html import escape


def plain_tip(text: str) -> str:
    """Return a tip that shows just this text: Qt would take what looks like HTML for HTML.

    >>> plain_tip("wet puck"), plain_tip("<b>wet</b>")
    ('wet puck', '<span>&lt;b&gt;wet&lt;/b&gt;</span>')
    """
    return f"<span>{escape(text)}</span>" if "<" in text else text
