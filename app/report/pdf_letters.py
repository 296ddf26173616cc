"""Letters of a PDF: fonts that go into the file, and a way to write what they lack so that nothing is lost."""

from __future__ import annotations

from functools import cache

PLAIN, BOLD = "Vera", "VeraBd"
_KIN = {
    0x202F: "\u00a0",
    0x2009: "\u00a0",
    0x2007: "\u00a0",
    0x2010: "-",
    0x2011: "-",
    0x2192: "->",
    0x3BC: "\u00b5",
    9: " ",
}
"""What Vera lacks and has a near relation of the same meaning."""


@cache
def known_letters() -> frozenset[int]:
    """Registers the fonts; returns the code points that both can draw."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    known = []
    for name in (PLAIN, BOLD):
        font = TTFont(name, f"{name}.ttf")
        pdfmetrics.registerFont(font)
        known.append(frozenset(font.face.charToGlyph))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)
    return known[0] & known[1]


def printable(words: str) -> str:
    """The words with each character that the fonts lack written as its code point.

    >>> printable("1\\u202f004 \\u03c6")
    '1\\xa0004 [U+03C6]'
    """
    letters = known_letters()
    return "".join(c if c == "\n" or ord(c) in letters else f"[U+{ord(c):04X}]" for c in words.translate(_KIN))


def line_width(words: str, size: float, *, bold: bool = False) -> float:
    """How wide a line of letters is, in the unit of ``size``."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(stringWidth(printable(words), BOLD if bold else PLAIN, size))
