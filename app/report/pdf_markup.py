"""Words of a report as the small markup of the PDF writer's paragraphs, and the looks that they are set in."""

from __future__ import annotations

from functools import cache
from xml.sax.saxutils import escape, quoteattr

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle

from app.report.blocks import Run, Words
from app.report.palette import PAD
from app.report.pdf_letters import BOLD, PLAIN, known_letters, printable

TONES = {"muted": PAD.muted, "suspect": PAD.suspect_text, "warning": PAD.warning_text}
BODY_PT, NOTE_PT, TABLE_PT, CROWDED_PT = 9.5, 8.5, 8.0, 7.3

IN_TABLES: dict[str, dict[str, object]] = {
    "cell": {},
    "number": {"alignment": TA_RIGHT},
    "head": {"fontName": BOLD},
    "number head": {"fontName": BOLD, "alignment": TA_RIGHT},
}


def markup(runs: Words) -> str:
    """Words as markup; a character that the fonts lack is written as its code point."""
    return "".join(_run(run) for run in runs)


def _run(run: Run) -> str:
    text = escape(printable(run.text)).replace("\n", "<br/>")
    if run.low:
        # an underline raised over the letters is the overbar
        text = f'<u offset="0.82*F" width="0.07*F">{text}</u>'
    if run.bold:
        text = f"<b>{text}</b>"
    if run.tone != "plain":
        text = f'<font color="{TONES[run.tone]}">{text}</font>'
    return f"<a href={quoteattr('#' + run.link)}>{text}</a>" if run.link else text


@cache
def looks() -> dict[str, ParagraphStyle]:
    """Paragraph looks by name."""
    known_letters()
    ink = HexColor(PAD.ink)
    base = ParagraphStyle(
        "plain", fontName=PLAIN, fontSize=BODY_PT, leading=1.36 * BODY_PT, textColor=ink, spaceAfter=4,
        allowWidows=0, allowOrphans=0, bulletFontName=PLAIN, bulletFontSize=BODY_PT, bulletColor=ink,
    )  # fmt: skip

    def look(name: str, **changes: object) -> ParagraphStyle:
        return ParagraphStyle(name, parent=base, **changes)

    found = (
        base,
        look("lead", fontName=BOLD, fontSize=11.5, leading=15),
        look("muted", fontSize=NOTE_PT, leading=1.34 * NOTE_PT, textColor=HexColor(PAD.muted)),
        look("small", fontSize=NOTE_PT, leading=1.34 * NOTE_PT),
        look("warning", textColor=HexColor(PAD.warning_text)),
        look(
            "boxed", borderWidth=0.8, borderColor=ink, backColor=HexColor(PAD.tint), borderPadding=(4, 6, 4, 6),
            leftIndent=7, rightIndent=7, spaceBefore=8, spaceAfter=10,
        ),
        look("title", fontName=BOLD, fontSize=17, leading=21, spaceAfter=3),
        look("subtitle", fontSize=10.5, leading=14, spaceAfter=2),
        look("section", fontName=BOLD, fontSize=13, leading=16, spaceBefore=11, spaceAfter=1),
        look("heading", fontName=BOLD, fontSize=10.5, leading=14, spaceBefore=6, spaceAfter=2),
        look("bullet", leftIndent=13, bulletIndent=3, spaceAfter=2),
        look("last bullet", leftIndent=13, bulletIndent=3, spaceAfter=5),
        *(
            look(
                f"{name} {style}", fontSize=NOTE_PT, leading=1.34 * NOTE_PT, textColor=colour,
                bulletFontSize=NOTE_PT, leftIndent=13, bulletIndent=3, spaceAfter=room,
            )
            for name, room in (("bullet", 1), ("last bullet", 5))
            for style, colour in (("muted", HexColor(PAD.muted)), ("small", ink))
        ),
        *(
            look(f"{name} {size:g}", fontSize=size, leading=1.3 * size, spaceAfter=0, **changes)
            for size in (TABLE_PT, CROWDED_PT)
            for name, changes in IN_TABLES.items()
        ),
        look("caption", fontSize=7.5, leading=10, textColor=HexColor(PAD.muted), spaceBefore=2, spaceAfter=6),
    )  # fmt: skip
    return {style.name: style for style in found}
