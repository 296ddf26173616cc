"""One capture of the case: which it is, whether it is the shown one, and what its check-up says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QToolButton, QVBoxLayout, QWidget

from app.model.lead_offers import together
from app.model.theme import Theme
from app.report.cautions import AT_THE_PINS
from app.widgets.captures.capture_details import CaptureDetails
from app.widgets.captures.lead_swap import LeadSwap
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.painting import painting
from app.widgets.controls.shown_box import ShownBox
from app.widgets.controls.signal_name import plain_font
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from app.widgets.frame.step_list import draw_mark

if TYPE_CHECKING:
    from app.model.capture_cards import CardWords, Sentence
    from app.model.lead_offers import LeadOffer

MARK_WORDS = {"fine": "fine", "done": "fine", "look": "needs a look", "bad": "bad"}
ROOM_FOR_FACTS = 480
"""Pixels at 100 % that a column needs for facts and thumbnail beside a capture's name."""
WIDE = 600
"""Pixels at 100 % from which on the thumbnail has its whole width."""
LONGEST_NAME = 240


class Mark(QWidget):
    """A tick or an ochre triangle, as tall as the text beside it."""

    def __init__(self, kind: str, theme: Theme) -> None:
        super().__init__()
        self._kind, self._theme = kind, theme
        self.setAccessibleName(MARK_WORDS.get(kind, ""))
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        line = self.fontMetrics().height()
        return QSize(line, line)

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            side = min(self.fontMetrics().height(), self.width(), self.height())
            draw_mark(painter, QRectF(0, (self.height() - side) / 2, side, side), self._kind, self._theme)


class CaptureCard(QFrame):
    """Signals carry the index of the capture on its side, or the offer that was answered.

    ``wanted`` carries what is to be done with the capture, and its index: "replace", "move", "look", "remove" or
    "leads_back". ``described`` carries the index, the name, the note and the time of capture as they were typed.
    """

    shownWanted = Signal(int)
    openWanted = Signal(int)
    wanted = Signal(str, int)
    described = Signal(int, str, str, str)
    swapWanted = Signal(object)
    leaveWanted = Signal(object)

    def __init__(self, words: CardWords, side: str, is_open: bool, theme: Theme, scale: float, width: int) -> None:
        super().__init__()
        self.setObjectName("card")
        self.setProperty("chosen", is_open)
        self.words, self._side, self._theme, self._scale = words, side, theme, scale
        self._roomy, self._wide = width >= ROOM_FOR_FACTS * scale, width >= WIDE * scale
        roomy = self._roomy
        outer = QHBoxLayout(self)
        outer.setContentsMargins(12, 5, 6, 5)
        outer.setSpacing(8)
        top = Qt.AlignmentFlag.AlignTop
        self.radio = ShownBox(side, theme)
        self.radio.setChecked(words.shown)
        self.radio.setToolTip("Compare this capture in full; the others count in how often a fault is seen")
        self.radio.setAccessibleName(f"Show {words.capture.name}")
        self.radio.clicked.connect(lambda: self.shownWanted.emit(words.index))
        outer.addWidget(self.radio, 0, top if is_open or not roomy else Qt.AlignmentFlag.AlignVCenter)
        lines = QVBoxLayout()
        lines.setSpacing(3)
        lines.addLayout(self._first_line(roomy))
        if not roomy:
            lines.addWidget(ElidedLabel(words.facts, "muted"))
        self.details: CaptureDetails | None = None
        if is_open:
            self._add_open(lines)
        else:
            lines.addLayout(self._headline())
        outer.addLayout(lines, 1)
        if roomy and not is_open:
            outer.addWidget(self._thumbnail())
        outer.addWidget(self._opener(is_open), 0, top if is_open else Qt.AlignmentFlag.AlignVCenter)

    def _first_line(self, roomy: bool) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(12)
        name = ElidedLabel(self.words.capture.name, "strong")
        if roomy:
            bold = QFontMetricsF(plain_font(self._scale, bold=True)).horizontalAdvance(name.text()) + 4
            name.setMinimumWidth(round(min(bold, LONGEST_NAME * self._scale)))
        line.addWidget(name, 0 if roomy else 1)
        if roomy:
            facts = ElidedLabel(self.words.facts, "muted")
            line.addWidget(facts, 0)
        if self.words.shown:
            tag = QLabel("shown")
            tag.setObjectName("tag")
            if self._side == "suspect":
                tag.setStyleSheet(f"border-color: {self._theme.suspect}; color: {self._theme.suspect_text};")
            line.addWidget(tag)
        line.addStretch(1 if roomy else 0)
        return line

    def _headline(self) -> QHBoxLayout:
        kind = self.words.kind
        line = QHBoxLayout()
        line.setSpacing(6)
        # what needs a look is read whole, what is fine in one line
        bad = kind in ("look", "bad")
        line.addWidget(Mark(kind, self._theme), 0, Qt.AlignmentFlag.AlignTop)
        words = label(self.words.headline, "warning") if bad else ElidedLabel(self.words.headline, "plain")
        line.addWidget(words, 1)
        return line

    def _thumbnail(self) -> QWidget:
        # numpy is slow to import, and an empty page has no thumbnail
        from app.widgets.captures.thumbnail import Thumbnail

        picture = Thumbnail(self.words.capture, self._side, self._theme)
        picture.setFixedWidth(round((94 if self._wide else 60) * min(self._scale, 1.4)))
        picture.setMaximumHeight(42)
        return picture

    def _opener(self, is_open: bool) -> QToolButton:
        opener = QToolButton()
        opener.setText("▾" if is_open else "▸")
        opener.setAutoRaise(True)
        set_tip(opener, "Fold" if is_open else "Details of this capture")
        opener.setAccessibleName(f"{'Fold' if is_open else 'Open'} {self.words.capture.name}")
        opener.clicked.connect(lambda: self.openWanted.emit(-1 if is_open else self.words.index))
        return opener

    # ---- an open card

    def _add_open(self, lines: QVBoxLayout) -> None:
        from app.widgets.captures.thumbnail import ChannelShades

        shades = ChannelShades(self.words.channels, self._side, self._theme, self._scale)
        self._add_sentences(lines)
        lines.addSpacing(4)
        lines.addWidget(shades)
        self.details = CaptureDetails(self.words.capture)
        self.details.described.connect(lambda *texts: self.described.emit(self.words.index, *texts))
        self.details.wanted.connect(lambda what: self.wanted.emit(what, self.words.index))
        lines.addSpacing(4)
        lines.addWidget(self.details)

    def _add_sentences(self, lines: QVBoxLayout) -> None:
        offered = [offer.sentence for offer in self.words.offers]
        whole = together(self.words.offers)
        if whole is not None:
            answers = WrapRow()
            answers.addWidget(self._mend_button(whole, decision=whole.certain))
            lines.addLayout(answers)
        for offer in self.words.offers:
            lines.addLayout(self._offer(offer))
            lines.addSpacing(8)
        for sentence in self.words.sentences:
            if not any(sentence.text.startswith(text) for text in offered):
                lines.addLayout(self._sentence(sentence))
        if self.words.offers or any(sentence.do for sentence in self.words.sentences):
            # what is to be done is done at the clips
            lines.addWidget(label(AT_THE_PINS, "muted"))

    def _sentence(self, sentence: Sentence) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(6)
        line.addWidget(Mark(sentence.kind, self._theme), 0, Qt.AlignmentFlag.AlignTop)
        bad = sentence.kind in ("look", "bad")
        text = QVBoxLayout()
        text.setSpacing(2)
        text.addWidget(label(sentence.text, "warning" if bad else "muted" if sentence.kind != "fine" else "plain"))
        if sentence.do:
            text.addWidget(label(sentence.do))
        line.addLayout(text, 1)
        return line

    def _offer(self, offer: LeadOffer) -> QVBoxLayout:
        """What was seen in a picture and in words, and the two answers."""
        title, _, seen = offer.sentence.partition(". " if offer.topic == "swapped" else ": ")
        seen = seen[:1].upper() + seen[1:]
        box = QVBoxLayout()
        box.setSpacing(6)
        head = QHBoxLayout()
        head.setSpacing(6)
        head.addWidget(Mark("look", self._theme), 0, Qt.AlignmentFlag.AlignTop)
        head.addWidget(label(title, "warning"), 1)
        box.addLayout(head)
        if offer.picture is not None:
            box.addWidget(LeadSwap(offer.picture, self._theme))
        sentence = next((s for s in self.words.sentences if s.text.startswith(offer.sentence)), None)
        more = sentence.text[len(offer.sentence) :].strip() if sentence is not None else ""
        box.addWidget(label(f"{seen} {more}".strip()))
        if sentence is not None and sentence.do:
            box.addWidget(label(sentence.do, "muted"))
        answers = WrapRow()
        # one ink-filled button per decision
        swap = self._mend_button(offer, decision=offer.certain and len(self.words.offers) == 1)
        leave = QPushButton("Leave as it is")
        leave.setToolTip("The leads are right: it is not offered again for this capture")
        leave.clicked.connect(lambda: self.leaveWanted.emit(offer))
        answers.addWidget(swap)
        answers.addWidget(leave)
        box.addLayout(answers)
        return box

    def _mend_button(self, offer: LeadOffer, *, decision: bool) -> QPushButton:
        button = QPushButton(offer.deed if self._roomy else offer.deed.removesuffix(" in the sheet"))
        button.setAccessibleName(offer.deed)
        if decision:
            button.setProperty("role", "decision")
        set_tip(button, offer.effect)
        button.clicked.connect(lambda: self.swapWanted.emit(offer))
        return button
