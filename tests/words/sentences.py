"""Sentences of a page of Markdown, without what is typed or copied: code, links, tables."""

from __future__ import annotations

import re
from collections.abc import Iterator

MOST_WORDS = 25


def paragraphs(text: str) -> Iterator[str]:
    """Each paragraph, heading or item of a list, on one line, without the blocks of code."""
    held: list[str] = []
    fenced = False
    for line in (*text.split("\n"), ""):
        bare = line.strip()
        if bare.startswith("```"):
            fenced = not fenced
            continue
        if fenced or (line.startswith("    ") and not held):
            continue
        begins = re.match(r"(- |\d+\. |#)", bare)
        if held and (not bare or begins):
            yield " ".join(held)
            held = []
        if bare and not bare.startswith("!["):
            held.append(re.sub(r"^(- |\d+\. |#+ )", "", bare))


def sentences(paragraph: str) -> list[str]:
    """Its sentences. A colon that begins a list inside the line, or a semicolon, ends none.

    >>> sentences("It ends. `a.b. C` does not; see [the page](x.md). Next?")
    ['It ends.', '_ does not; see the page.', 'Next?']
    """
    plain = re.sub(r"`[^`]*`", "_", paragraph)
    plain = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", plain)
    plain = re.sub(r"[*\u201c\u201d\"]", "", plain)
    return [part for part in re.split(r"(?<=[.?!])\s+(?=[A-Z0-9_])", plain) if part]


def too_long(text: str) -> list[str]:
    """The sentences with more words than a reader takes in at once."""
    return [
        s
        for p in paragraphs(text)
        for s in sentences(p)
        if len(re.findall(r"\w[\w\u2019'\u2013.,%-]*", s)) > MOST_WORDS
    ]
