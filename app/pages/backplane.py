"""Step 6, Backplane: the crate with its readings, one chip and what it does, and the lists of pins and wires."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QButtonGroup, QStackedWidget, QVBoxLayout, QWidget

from app.model.crate import pin_of_signal
from app.model.jobs import Jobs
from app.pages.backplane_chip import ChipPane
from app.pages.backplane_crate import CratePane
from app.pages.backplane_lists import ListsPane
from app.pages.page import Page, PageContext
from app.widgets.controls.label import label
from app.widgets.controls.pick_button import PickButton
from app.widgets.controls.wrap_row import WrapRow

VIEWS = (
    ("Crate", "The crate with its slots, its readings and the chosen net"),
    ("Chip", "One chip of the pin list and what it does"),
    ("Lists", "Pin list and wire list, to look at and to correct"),
)


class BackplanePage(Page):
    """Three views of the circuit; one is shown."""

    def __init__(self, context: PageContext, jobs: Jobs) -> None:
        super().__init__(context)
        self.crate, self.chip, self.lists = CratePane(context), ChipPane(context, jobs), ListsPane(context)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 8, 8, 6)
        layout.setSpacing(6)
        layout.addLayout(self._head())
        self.stack = QStackedWidget()
        for pane in (self.crate, self.chip, self.lists):
            self.stack.addWidget(pane)
            pane.said.connect(self.said)
        layout.addWidget(self.stack, 1)
        self.crate.turned.connect(self._title)
        self.chip.turned.connect(self._title)
        self.retheme()
        self.refresh("case")

    def _head(self) -> WrapRow:
        row = WrapRow(gap=6)
        self.title, self.side_words = label("", "heading", wrap=False), label("", "muted", wrap=False)
        group = QButtonGroup(self)
        buttons = []
        for index, (text, tip) in enumerate(VIEWS):
            button = PickButton(text, tip, not index)
            group.addButton(button, index)
            row.addWidget(button)
            buttons.append(button)
        row.addWidget(self.title)
        row.addWidget(self.side_words)
        for part in self.crate.switches:
            row.addWidget(part)
        self.crate_button, self.chip_button, self.lists_button = buttons
        group.idToggled.connect(self._turn_to)
        return row

    def _turn_to(self, index: int, on: bool) -> None:
        if on:
            self.stack.setCurrentIndex(index)
            self._title()
            self.said.emit(self.status())

    def _title(self) -> None:
        pane = self.stack.currentWidget()
        crate = pane is self.crate
        self.title.setText(self.crate.title if crate else self.chip.heading if pane is self.chip else "Lists")
        # what the pressed button says already
        self.title.setVisible(self.title.text() not in [name for name, _tip in VIEWS])
        self.side_words.setText(self.crate.map.side_words if crate else "")
        for part in (self.side_words, *self.crate.switches):
            part.setVisible(crate)

    def refresh(self, what: str) -> None:
        """Follows the session in every view."""
        for pane in (self.crate, self.chip, self.lists):
            pane.refresh(what)
        self._title()

    def retheme(self) -> None:
        """Takes colours and text size."""
        for pane in (self.crate, self.chip, self.lists):
            pane.retheme()

    def begins_at(self) -> QWidget | None:
        return self.crate.map if self.stack.currentWidget() is self.crate else None

    def status(self) -> str:
        """The line of the view that is shown."""
        pane = self.stack.currentWidget()
        assert isinstance(pane, (CratePane, ChipPane, ListsPane))
        return pane.status()

    def own_actions(self) -> dict[str, Callable[[], None]]:
        return {"go_to_pin": self.do_go_to_pin}

    def do_go_to_pin(self) -> None:
        """Shows the pin of the chosen signal on the crate, or the chip that the chosen cause lies in."""
        session = self.context.session
        cause = session.cause(session.chosen.cause)
        if cause is not None and cause.chip is not None:
            self.chip_button.setChecked(True)
            self.chip.to_chip(cause.chip.name)
            return
        if pin_of_signal(self.context.session.case, self.context.session.chosen.signal):
            self.crate_button.setChecked(True)
        self.crate.to_chosen_signal()
