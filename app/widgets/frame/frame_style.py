"""Style of the frame and the pages: ruled boxes, square corners, one ink-filled button per decision."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtGui import QColor, QPalette

if TYPE_CHECKING:
    from app.model.theme import Theme


def palette(theme: Theme) -> QPalette:
    """Colours of what no style sheet reaches: tick boxes, text cursors, what is selected in a field."""
    made = QPalette()
    roles = QPalette.ColorRole
    for role, colour in (
        (roles.Window, theme.paper),
        (roles.WindowText, theme.ink),
        (roles.Base, theme.panel),
        (roles.AlternateBase, theme.tint),
        (roles.Text, theme.ink),
        (roles.Button, theme.panel),
        (roles.ButtonText, theme.ink),
        (roles.Highlight, theme.ink),
        (roles.HighlightedText, theme.panel),
        (roles.PlaceholderText, theme.muted),
    ):
        made.setColor(role, QColor(colour))
    return made


def _tick(theme: Theme) -> str:
    """The tick of a ticked box, in the colour of the panel."""
    return Path(__file__).with_name(f"tick_{theme.name}.svg").as_posix()


def frame_style(theme: Theme, scale: float) -> str:
    """A style sheet that follows the theme's own; ``scale`` is 1.0 to 2.0."""

    def px(size: float) -> str:
        return f"{round(size * scale)}px"

    return f"""
QMainWindow, QWidget#page, QStackedWidget {{ background: {theme.paper}; color: {theme.ink}; }}
QFrame#steps {{ background: {theme.side}; border: none; border-right: 1px solid {theme.rule_strong}; }}
QLabel#stepsTitle {{ color: {theme.muted}; font-weight: bold; padding: {px(10)} {px(14)};
    border-bottom: 1px solid {theme.rule_strong}; background: transparent; }}
QFrame#formHead {{ background: {theme.panel}; border: none; border-bottom: 2px solid {theme.ink}; }}
QStatusBar {{ background: {theme.panel}; border-top: 1px solid {theme.rule_strong}; }}
QStatusBar::item {{ border: none; }}
QLabel#statusLine {{ color: {theme.ink}; padding: {px(4)} {px(14)}; }}
QLabel#heading {{ font-size: {px(18)}; font-weight: bold; color: {theme.ink}; background: transparent; }}
QLabel#strong {{ font-weight: bold; color: {theme.ink}; background: transparent; }}
QLabel#muted {{ color: {theme.muted}; background: transparent; font-size: {px(15)}; }}
QLabel#plain {{ color: {theme.ink}; background: transparent; }}
QLabel#rank {{ color: {theme.muted}; font-size: {px(21)}; font-weight: bold; background: transparent; }}
QLabel#fault {{ color: {theme.suspect_text}; font-weight: bold; background: transparent; }}
QLabel#warning {{ color: {theme.warning_text}; font-weight: bold; background: transparent; }}
QLabel#tag {{ border: 1px solid {theme.ink}; font-weight: bold; padding: 0 {px(6)}; background: {theme.panel};
    font-size: {px(15)}; color: {theme.ink}; }}
QFrame#noticeLine {{ background: {theme.band_faint}; border: 1px solid {theme.warning}; border-radius: 0; }}
QFrame#noticeLine[calm="true"] {{ background: transparent; border: 1px solid {theme.rule}; }}
QFrame#noticeLine[calm="true"] QWidget#noticeBody {{ background: transparent; }}
QWidget#noticeBody {{ background: {theme.band_faint}; }}
QFrame#card {{ background: {theme.panel}; border: 1px solid {theme.rule_strong}; border-radius: 0; }}
QFrame#card[chosen="true"] {{ background: {theme.tint}; border: 2px solid {theme.ink}; }}
QFrame#card[focused="true"] {{ border: 2px dotted {theme.ink}; }}
QFrame#dropTarget {{ background: transparent; border: 2px dashed {theme.muted}; }}
QFrame#sidePanel {{ background: {theme.panel}; border: none; border-left: 1px solid {theme.rule_strong}; }}
QScrollArea, QWidget#causeBody, QWidget#columnBody {{ background: transparent; border: none; }}
QPushButton[pick="true"] {{ border: 1px solid {theme.rule_strong}; font-weight: normal; padding: {px(6)} {px(4)}; }}
QPushButton[pick="true"]:checked {{ background: {theme.tint}; border: 2px solid {theme.ink}; font-weight: bold; }}
QPushButton[pick="true"]:focus {{ border: 3px double {theme.ink}; }}
QPushButton[small="true"] {{ padding: {px(2)} {px(8)}; font-size: {px(15)}; }}
QToolButton {{ background: transparent; border: 1px solid transparent; padding: {px(3)}; }}
QToolButton:focus, QToolButton:hover {{ border: 1px solid {theme.ink}; }}
QRadioButton, QCheckBox {{ spacing: {px(7)}; padding: {px(2)}; border: 1px solid transparent; }}
QRadioButton::indicator, QCheckBox::indicator, QListView::indicator {{ width: {px(14)}; height: {px(14)};
    border: 2px solid {theme.ink}; background: {theme.panel}; }}
QRadioButton::indicator:checked {{ background: {theme.ink}; }}
QCheckBox::indicator:checked, QListView::indicator:checked {{ background: {theme.ink}; image: url({_tick(theme)}); }}
QRadioButton::indicator:disabled, QCheckBox::indicator:disabled {{ border: 2px dotted {theme.rule_strong}; }}
QRadioButton::indicator:checked:disabled, QCheckBox::indicator:checked:disabled {{ background: {theme.muted}; }}
QRadioButton:focus, QCheckBox:focus {{ border: 1px dotted {theme.ink}; }}
QWidget#logColumn {{ background: {theme.paper}; border-right: 1px solid {theme.rule_strong}; }}
QListView#logList {{ background: {theme.paper}; border: none; outline: 0; font-size: {px(15)}; }}
QScrollArea#entryView, QWidget#entryBody {{ background: {theme.panel}; border: none; }}
QScrollArea#entryView:focus {{ border: 1px dotted {theme.ink}; }}
QFrame#lineStrip {{ background: {theme.side}; border: none; border-top: 1px solid {theme.rule_strong}; }}
QFrame#rule {{ background: {theme.rule_strong}; border: none; }}
QPushButton[role="link"] {{ background: transparent; border: none; border-bottom: 1px solid {theme.ink};
    font-weight: normal; padding: 0; text-align: left; }}
QPushButton[role="link"]:hover, QPushButton[role="link"]:focus {{ background: {theme.tint};
    border-bottom: 2px solid {theme.ink}; }}
QListView {{ background: {theme.panel}; color: {theme.ink}; border: 1px solid {theme.rule_strong}; outline: 0; }}
QListView:focus {{ border: 2px solid {theme.ink}; }}
QTableView, QTableWidget {{ background: {theme.panel}; color: {theme.ink}; border: 1px solid {theme.rule_strong};
    selection-background-color: {theme.tint}; selection-color: {theme.ink}; outline: 0; }}
QTableView::item {{ border-bottom: 1px solid {theme.rule}; padding: 0 {px(6)}; }}
QTableView::item:selected {{ background: {theme.tint}; color: {theme.ink}; }}
QTableView::item:focus {{ border: 2px solid {theme.ink}; }}
QListWidget {{ background: {theme.panel}; color: {theme.ink}; border: 1px solid {theme.rule_strong}; outline: 0; }}
QListWidget::item {{ padding: {px(4)} {px(6)}; border-bottom: 1px solid {theme.rule}; }}
QListWidget::item:selected {{ background: {theme.tint}; color: {theme.ink}; border: 2px solid {theme.ink}; }}
QHeaderView {{ background: {theme.tint}; border: none; }}
QHeaderView::section {{ background: {theme.tint}; color: {theme.muted}; font-weight: bold; border: none;
    padding: {px(4)} {px(8)}; font-size: {px(15)}; }}
QHeaderView::up-arrow, QHeaderView::down-arrow {{ image: none; width: 0; height: 0;
    border-left: {px(5)} solid {theme.tint}; border-right: {px(5)} solid {theme.tint}; margin-right: {px(4)};
    subcontrol-position: center right; }}
QHeaderView::down-arrow {{ border-top: {px(7)} solid {theme.ink}; }}
QHeaderView::up-arrow {{ border-bottom: {px(7)} solid {theme.ink}; }}
QPushButton::menu-indicator {{ image: none; width: 0; }}
QComboBox::drop-down {{ border: none; border-left: 1px solid {theme.rule_strong}; width: {px(24)}; }}
QComboBox::down-arrow {{ image: none; width: 0; height: 0; border-left: {px(5)} solid {theme.panel};
    border-right: {px(5)} solid {theme.panel}; border-top: {px(7)} solid {theme.ink}; }}
QSpinBox::up-button, QSpinBox::down-button {{ width: 0; border: none; }}
QSpinBox QLineEdit {{ border: none; padding: 0 {px(4)}; background: transparent; }}
QComboBox QAbstractItemView {{ background: {theme.panel}; color: {theme.ink};
    selection-background-color: {theme.tint}; selection-color: {theme.ink}; }}
QMenuBar {{ border-bottom: 1px solid {theme.rule}; }}
QMenuBar::item {{ padding: {px(4)} {px(10)}; background: transparent; }}
QMenu::item {{ padding: {px(4)} {px(24)}; }}
QMenu::item:disabled {{ color: {theme.muted}; }}
QDialog, QMessageBox, QTextBrowser {{ background: {theme.panel}; color: {theme.ink}; }}
QDialog {{ border: 1px solid {theme.ink}; }}
QDialogButtonBox {{ dialogbuttonbox-buttons-have-icons: 0; }}
QTextBrowser {{ border: none; }}
QSplitter {{ background: transparent; }}
QSplitter::handle {{ background: transparent; height: {px(8)}; }}
"""
