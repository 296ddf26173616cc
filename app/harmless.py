"""Words from files and cases, made harmless where they are shown: terminals obey codes."""

from __future__ import annotations

_CODES = {
    code: "\N{REPLACEMENT CHARACTER}"
    for code in (*range(0x20), 0x7F, *range(0x80, 0xA0), 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))
    if code not in (0x09, 0x0A)
} | dict.fromkeys(range(0xD800, 0xE000), "\N{REPLACEMENT CHARACTER}")
"""Control codes (ISO/IEC 6429) and the marks that turn the direction of writing (Unicode Standard Annex 9);
and what stands for bytes of a name that are no text."""


def plain(text: str) -> str:
    """The text without codes that a terminal would obey, and without turns of the writing direction.

    >>> plain("D03\\x1b[2J")
    'D03\ufffd[2J'
    """
    return text.translate(_CODES)
