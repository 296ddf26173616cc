"""The menus of the window, made of the table of actions, with the cases opened lately among them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu

from app.model.actions import MENUS, ActionRow
from app.model.recent_cases import recent_cases
from app.shell.mnemonics import with_mnemonics
from app.widgets.controls.tip import set_tip

if TYPE_CHECKING:
    from app.shell.frame import Frame


class Menus:
    """``by_name`` are the actions, ``texts`` their words with the underlined letter."""

    def __init__(self, window: Frame, rows: Sequence[ActionRow], act: Callable[[str], None]) -> None:
        bar = window.menuBar()
        menus = {name: bar.addMenu(text) for name, text in zip(MENUS, with_mnemonics(MENUS), strict=True)}
        self.by_name: dict[str, QAction] = {}
        self.texts: dict[str, str] = {}
        for menu in MENUS:
            own = [row for row in rows if row.menu == menu]
            self.texts |= zip((row.name for row in own), with_mnemonics([row.text for row in own]), strict=True)
        for row in rows:
            if row.begins:
                menus[row.menu].addSeparator()
            made = QAction(self.texts[row.name], window)
            made.setShortcuts([QKeySequence(key) for key in row.keys])
            set_tip(made, row.hint)
            made.setStatusTip(row.tip)
            made.triggered.connect(lambda _checked=False, name=row.name: act(name))
            menus[row.menu].addAction(made)
            self.by_name[row.name] = made
        self.recent = RecentMenu(window)
        self.by_name["recent_cases"].setMenu(self.recent)
        self.demos = DemoMenu(window)
        self.by_name["demo_cases"].setMenu(self.demos)


class RecentMenu(QMenu):
    """The cases opened lately, looked up when the menu opens."""

    def __init__(self, window: Frame) -> None:
        super().__init__(window)
        self._window = window
        self.aboutToShow.connect(self.fill)

    def fill(self) -> None:
        """Lists them anew."""
        self.clear()
        found = recent_cases(self._window.settings, self._window.session.store.path)
        names = with_mnemonics([name.replace("&", "+") for _path, name in found])
        for text, (path, _name) in zip(names, found, strict=True):
            self.addAction(text).triggered.connect(lambda _on=False, path=path: self._window.open_file(path))
        if not found:
            self.addAction("No other case was opened here").setEnabled(False)


class DemoMenu(QMenu):
    """The invented cases to try the program on, listed when the menu opens first."""

    def __init__(self, window: Frame) -> None:
        super().__init__(window)
        self._window = window
        self.aboutToShow.connect(self.fill)

    def fill(self) -> None:
        """Lists them once."""
        from demo_traces import CASES

        if not self.isEmpty():
            return
        names = with_mnemonics([case.listed for case in CASES.values()])
        for text, case in zip(names, CASES.values(), strict=True):
            self.addAction(text).triggered.connect(lambda _on=False, name=case.name: self._window.open_demo(name))
