"""One side of the case: its head, its cards, and a place to drop files."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from app.case.record import SIDE_WORDS, Side
from app.model.capture_cards import CardWords, cards, side_line
from app.widgets.captures.capture_card import ROOM_FOR_FACTS, WIDE, CaptureCard
from app.widgets.captures.drop_target import DropTarget
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.frame.form_head import SideMark

if TYPE_CHECKING:
    from app.model.page_context import PageContext

ROOM_FOR_TARGET, ROOM_FOR_WORDS = 120, 200
"""Pixels at 100 % that must be left below the cards for a large target, and for its explanation; else it is a strip."""


class SideColumn(QWidget):
    """``wanted`` carries a deed and the index of a capture; the others what a card told."""

    shownWanted = Signal(int)
    opened = Signal()
    wanted = Signal(str, int)
    described = Signal(int, str, str, str)
    swapWanted = Signal(object)
    leaveWanted = Signal(object)

    def __init__(self, context: PageContext, button: Callable[[str, str], QPushButton], side: Side) -> None:
        super().__init__()
        self.side, self.context, self.open_key = side, context, ""
        self._button = button
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        head = QHBoxLayout()
        head.setSpacing(10)
        self.mark = SideMark(side, context.theme)
        self.mark.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        head.addWidget(self.mark)
        head.addWidget(label(SIDE_WORDS[side], "heading", wrap=False))
        self.line = ElidedLabel("", "muted")
        head.addWidget(self.line, 1)
        head.addStretch(0)
        self.adder = button(f"open_{side}", "Add captures…")
        head.addWidget(self.adder)
        layout.addLayout(head)
        self.scroll_area = QScrollArea()
        self.scroll_area.setWidgetResizable(True)
        self.scroll_area.setFrameShape(QFrame.Shape.NoFrame)
        self.scroll_area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.scroll_area.setAccessibleName(f"{SIDE_WORDS[side]} captures")
        layout.addWidget(self.scroll_area, 1)
        body = QWidget()
        body.setObjectName("columnBody")
        self.body = QVBoxLayout(body)
        self.body.setContentsMargins(0, 0, 4, 0)
        self.body.setSpacing(8)
        self.scroll_area.setWidget(body)
        self.cards: list[CaptureCard] = []
        self.target: DropTarget | None = None
        self._made: list[tuple[CardWords, bool]] = []
        self._look: tuple[object, ...] = ()

    def rebuild(self) -> None:
        """Brings the cards up to the session; those that say the same as before stay, and what is typed in them."""
        words = cards(self.context.session, self.side)
        look = (self.context.theme.name, self.context.scale, self._rooms())
        wanted = [(w, w.capture.key == self.open_key) for w in words]
        self._set_head()
        other = look != self._look
        if other or len(wanted) != len(self._made):
            while self.cards:
                self._take_out(len(self.cards) - 1)
            self._made = []
        for place, one in enumerate(wanted):
            if place >= len(self.cards) or one != self._made[place]:
                self._put(place, *one)
        self._made, self._look = wanted, look
        self._set_target(again=other)

    def _set_head(self) -> None:
        roomy = self._roomy()
        self.mark.set_theme(self.context.theme)
        self.line.setVisible(roomy)
        self.adder.setText("Add captures…" if roomy else "Add…")
        self.line.setText(side_line(self.context.session, self.side))

    def _put(self, place: int, words: CardWords, is_open: bool) -> None:
        card = CaptureCard(words, self.side, is_open, self.context.theme, self.context.scale, self.width())
        card.shownWanted.connect(self.shownWanted)
        card.openWanted.connect(self._open)
        card.wanted.connect(self.wanted)
        card.described.connect(self.described)
        card.swapWanted.connect(self.swapWanted)
        card.leaveWanted.connect(self.leaveWanted)
        self.body.insertWidget(place, card)
        if place < len(self.cards):
            before = self.cards[place]
            if card.details and before.details and before.words.capture.key == words.capture.key:
                card.details.carry_on(before.details)
            self._take_out(place)
        self.cards.insert(place, card)

    def _take_out(self, place: int) -> None:
        card = self.cards.pop(place)
        self.body.removeWidget(card)
        card.hide()
        card.deleteLater()

    def _roomy(self) -> bool:
        """Is there room for facts and thumbnail beside the name?"""
        return self.width() >= ROOM_FOR_FACTS * self.context.scale

    def _rooms(self) -> tuple[bool, bool]:
        return self._roomy(), self.width() >= WIDE * self.context.scale

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._look and self._look[-1] != self._rooms():
            self.rebuild()
        elif self._look:
            self._set_target()

    def _set_target(self, again: bool = False) -> None:
        taken = sum(card.sizeHint().height() + self.body.spacing() for card in self.cards)
        room = self.scroll_area.viewport().height() - taken
        strip = bool(self.cards) and room < ROOM_FOR_TARGET * self.context.scale
        wordy = not self.cards or room >= ROOM_FOR_WORDS * self.context.scale
        if self.target is not None:
            if (self.target.strip, self.target.wordy) == (strip, wordy) and not again:
                return
            self.body.removeWidget(self.target)
            self.target.hide()
            self.target.deleteLater()
        while self.body.count() > len(self.cards):
            self.body.takeAt(self.body.count() - 1)
        self.target = DropTarget(self.side, () if strip else self._buttons(), strip, wordy, self.context.theme)
        self.body.addWidget(self.target, 0 if strip else 1)
        if strip:
            self.body.addStretch(1)

    def show_drop(self, here: bool) -> None:
        """Files would land on this side: its target gets an ink edge, and is brought into sight."""
        if self.target is not None:
            self.target.set_over(here)
            if here:
                self.scroll_area.ensureWidgetVisible(self.target)

    def _buttons(self) -> tuple[QPushButton, ...]:
        """What the heading's button does not do already."""
        folder = QPushButton("Choose a folder…")
        folder.setToolTip("Every capture in the folder joins this side")
        folder.clicked.connect(lambda: self.context.act(f"open_{self.side}_folder"))
        return (folder,)

    def _open(self, index: int) -> None:
        held = self.context.session.case.side(self.side).captures
        self.open_key = held[index].key if 0 <= index < len(held) else ""
        self.rebuild()
        self.opened.emit()
        if index >= 0:
            # once the new card has its size
            QTimer.singleShot(0, self._show_open)

    def _show_open(self) -> None:
        for card in self.cards:
            if card.words.capture.key == self.open_key:
                self.scroll_area.verticalScrollBar().setValue(card.y())
