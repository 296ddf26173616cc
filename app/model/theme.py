"""Colours and the style sheet: light paper, and a dark room. Nothing here imports Qt.

The known-good side is ink, the suspect vermilion, a warning ochre; no meaning is carried by a colour alone. ``PAIRS``
lists every foreground on every background that the program uses, with the contrast that it must have.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

from app.report import palette
from app.report.palette import Palette

WORDS, MARKS = 4.5, 3.0
"""Least contrast of words and of marks: W3C WCAG 2.1, success criteria 1.4.3 and 1.4.11."""


@dataclass(frozen=True, slots=True)
class Theme(Palette):
    """The colours of printed pages, and those that only a window needs, as ``#RRGGBB``."""

    name: str
    side: str
    band_faint: str
    band: str
    band_edge: str

    @property
    def good(self) -> str:
        """The known-good side is drawn in ink."""
        return self.ink

    def mix(self, fore: str, back: str, share: float) -> str:
        """The colour ``share`` (0 to 1) of the way from ``back`` to ``fore``; both are names of colours here.

        >>> LIGHT.mix("panel", "panel", 0.5)
        '#FFFFFF'
        """
        pairs = zip(_channels(getattr(self, fore)), _channels(getattr(self, back)), strict=True)
        return "#" + "".join(f"{round(b + share * (f - b)):02X}" for f, b in pairs)


LIGHT = Theme(
    **asdict(palette.PAD), name="light", side="#E9EEE5", band_faint="#E8E8DA", band="#DDD8BA", band_edge="#A39352"
)

DARK = Theme(
    **asdict(palette.DARK), name="dark", side="#25221E", band_faint="#38352A", band="#4A4530", band_edge="#8F8250"
)

PAIRS: tuple[tuple[str, str, float], ...] = (
    *((fore, back, WORDS) for fore in ("ink", "muted") for back in ("paper", "panel", "side", "tint")),
    *((fore, back, WORDS) for fore in ("suspect_text", "warning_text") for back in ("paper", "panel", "side", "tint")),
    *((fore, back, MARKS) for fore in ("suspect", "warning") for back in ("paper", "panel", "side", "tint")),
    ("panel", "ink", WORDS),
    ("ink", "band", WORDS),
    ("ink", "band_faint", WORDS),
    ("muted", "band_faint", WORDS),
    ("warning_text", "band_faint", WORDS),
    ("suspect", "band", MARKS),
    ("suspect", "band_faint", MARKS),
)


def _channels(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1, of ``#RRGGBB``. W3C WCAG 2.1, definition of relative luminance.

    >>> luminance("#FFFFFF")
    1.0
    """

    def linear(value: float) -> float:
        return value / 12.92 if value <= 0.03928 else ((value + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(c / 255) for c in _channels(colour))
    return round(0.2126 * red + 0.7152 * green + 0.0722 * blue, 9)


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21, in either order. W3C WCAG 2.1, definition of contrast ratio.

    >>> contrast("#000000", "#FFFFFF")
    21.0
    """
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def style_sheet(theme: Theme, scale: float) -> str:
    """The Qt style sheet: ruled boxes, square corners. ``scale`` is held to 1.0 to 2.0 (text 15 px at 1.0)."""
    scale = min(max(scale, 1.0), 2.0)

    def px(size: float) -> str:
        return f"{round(size * scale)}px"

    t = theme
    return f"""
QWidget {{ color: {t.ink}; font-size: {px(15)}; }}
QMainWindow, QDialog, QMessageBox, QTextBrowser {{ background: {t.paper}; }}
QToolTip {{ background: {t.panel}; color: {t.ink}; border: 1px solid {t.ink}; padding: {px(5)}; font-size: {px(15)}; }}
QPushButton {{ background: {t.panel}; color: {t.ink}; border: 1px solid {t.ink}; border-radius: 0;
    padding: {px(6)} {px(14)}; font-weight: bold; }}
QPushButton:hover {{ background: {t.tint}; }}
QPushButton:focus {{ border: 3px double {t.ink}; }}
QPushButton:disabled {{ color: {t.muted}; border: 1px dashed {t.rule_strong}; }}
QPushButton[role="decision"] {{ background: {t.ink}; color: {t.panel}; }}
QPushButton[role="decision"]:focus {{ border: 3px double {t.panel}; }}
QPushButton[role="decision"]:disabled {{ background: {t.panel}; color: {t.muted}; }}
*[role="step"] {{ background: {t.side}; border: none; border-bottom: 1px solid {t.rule_strong}; padding: {px(14)};
    text-align: left; font-weight: normal; }}
*[role="step"]:checked {{ background: {t.panel}; border-left: 4px solid {t.ink}; font-weight: bold; }}
*[role="step"]:focus {{ border: 2px dotted {t.ink}; }}
*[role="formbox"] {{ background: {t.panel}; border: none; border-right: 1px solid {t.rule_strong};
    padding: {px(6)} {px(14)}; text-align: left; }}
*[role="formbox"]:focus {{ border: 2px dotted {t.ink}; }}
QTableView {{ background: {t.panel}; color: {t.ink}; gridline-color: {t.rule}; border: 1px solid {t.rule_strong};
    alternate-background-color: {t.paper}; selection-background-color: {t.tint}; selection-color: {t.ink}; }}
QTableView:focus {{ border: 2px solid {t.ink}; }}
QTableView::item:selected {{ border-top: 2px solid {t.ink}; border-bottom: 2px solid {t.ink}; }}
QHeaderView::section {{ background: {t.paper}; color: {t.muted}; border: none; border-bottom: 1px solid {t.rule_strong};
    padding: {px(5)}; font-weight: bold; }}
QLineEdit, QPlainTextEdit, QComboBox, QSpinBox {{ background: {t.panel}; color: {t.ink}; border: 1px solid {t.muted};
    border-radius: 0; padding: {px(4)}; selection-background-color: {t.ink}; selection-color: {t.panel}; }}
QLineEdit, QPlainTextEdit {{ placeholder-text-color: {t.muted}; }}
QLineEdit:focus, QPlainTextEdit:focus, QComboBox:focus, QSpinBox:focus {{ border: 2px solid {t.ink}; }}
QMenuBar, QMenu, QStatusBar {{ background: {t.panel}; color: {t.ink}; }}
QMenu {{ border: 1px solid {t.ink}; }}
QMenuBar::item:selected, QMenu::item:selected {{ background: {t.tint}; color: {t.ink}; }}
QProgressBar {{ background: {t.panel}; border: 1px solid {t.ink}; border-radius: 0; text-align: center; }}
QProgressBar::chunk {{ background: {t.muted}; }}
QScrollBar:vertical {{ background: {t.paper}; width: {px(14)}; margin: 0; border-left: 1px solid {t.rule}; }}
QScrollBar:horizontal {{ background: {t.paper}; height: {px(14)}; margin: 0; border-top: 1px solid {t.rule}; }}
QScrollBar::handle {{ background: {t.rule_strong}; min-height: {px(28)}; min-width: {px(28)}; border-radius: 0; }}
QScrollBar::handle:hover {{ background: {t.muted}; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
"""
