"""A menu under the right button, made of rows of the table of actions."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QMenu, QWidget

from app.model.actions import action


def action_menu(parent: QWidget, names: Sequence[str], act: Callable[[str], None]) -> QMenu:
    """A menu of actions by name; an empty name is a rule between them."""
    menu = QMenu(parent)
    menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    for name in names:
        if not name:
            menu.addSeparator()
            continue
        row = action(name)
        key = f"\t{row.keys[0]}" if row.keys else ""
        menu.addAction(f"{row.text}{key}").triggered.connect(lambda _on=False, name=name: act(name))
    return menu


def open_menu(parent: QWidget, names: Sequence[str], act: Callable[[str], None], at: QPoint) -> None:
    """Opens such a menu at a place on the screen."""
    action_menu(parent, names, act).popup(at)
