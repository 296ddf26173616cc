"""The state of a case, as on a repair card: a box for each, ticked with date and initials."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QVBoxLayout, QWidget

from app.case.dates import day_words
from app.case.proof_words import by_count_alone, lacks_for_verified
from app.case.record import OpenCase
from app.case.values import CASE_STATES, CaseState
from app.model.theme import Theme
from app.widgets.controls.label import label
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip
from app.widgets.frame.step_list import draw_mark


class StateBox(QAbstractButton):
    """One box; ``signed`` is date and initials. The state that holds has tint, ink edge and bold word."""

    def __init__(self, state: CaseState, theme: Theme) -> None:
        super().__init__()
        self.state = state
        self.setText(state)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._theme = theme
        self.ticked, self.current, self.signed = False, False, ""

    def set_stamp(self, ticked: bool, current: bool, signed: str) -> None:
        """Ticks the box or not."""
        self.ticked, self.current, self.signed = ticked, current, signed
        words = f"{self.state}, {'ticked ' + signed if ticked else 'not ticked'}"
        self.setAccessibleName(words + (", this is the state now" if current else ""))
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        line = self.fontMetrics().height()
        return QSize(line * 12, round(line * 1.8))

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self._theme
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            area, line = QRectF(self.rect()), self.fontMetrics().height()
            if self.current or self.underMouse():
                painter.fillRect(area, QColor(theme.tint))
            if self.current:
                painter.setPen(QPen(QColor(theme.ink), 2))
                painter.drawRect(area.adjusted(1, 1, -1, -1))
            side = round(line * 0.95)
            box = QRectF(line * 0.4, (area.height() - side) / 2, side, side)
            painter.setPen(QPen(QColor(theme.ink if self.ticked else theme.muted), 1.5))
            painter.setBrush(QColor(theme.panel))
            painter.drawRect(box)
            if self.ticked:
                draw_mark(painter, box, "done", theme)
            font = QFont(self.font())
            font.setBold(self.current)
            painter.setFont(font)
            painter.setPen(QColor(theme.ink if self.ticked else theme.muted))
            words = area.adjusted(line * 1.9, 0, -line * 0.5, 0)
            painter.drawText(words, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), self.text())
            used = QFontMetrics(font).horizontalAdvance(self.text()) + line * 0.5
            plain = QFont(self.font())
            painter.setFont(plain)
            painter.setPen(QColor(theme.muted))
            room = words.adjusted(used, 0, 0, 0)
            signed = QFontMetrics(plain).elidedText(self.signed, Qt.TextElideMode.ElideRight, int(room.width()))
            painter.drawText(room, int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter), signed)
            if self.hasFocus():
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DotLine))
                painter.drawRect(area.adjusted(4, 4, -4, -4))


class StateBoxes(QWidget):
    """``wanted`` carries a state whose box is to be ticked or cleared; where it may not, the line below says why."""

    wanted = Signal(str)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(2)
        self.boxes: dict[CaseState, StateBox] = {}
        for state in CASE_STATES:
            box = StateBox(state, theme)
            box.clicked.connect(lambda _checked=False, state=state: self._ask(state))
            down.addWidget(box)
            self.boxes[state] = box
        self.note = label("", "warning")
        self.note.hide()
        down.addWidget(self.note)
        self._lacking = ""

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        for box in self.boxes.values():
            box.set_theme(theme)

    def show_case(self, case: OpenCase) -> None:
        """Ticks what is stamped; a case without a stamp is open since it was made."""
        self._lacking = lacks_for_verified(case)
        for state, box in self.boxes.items():
            stamps = [stamp for stamp in case.stamps if stamp.state == state]
            at, author = (stamps[-1].at, stamps[-1].author) if stamps else ("", "")
            if state == "open" and not stamps:
                at, author = case.opened_at, case.opened_by
            signed = ", ".join(part for part in (day_words(at, year=False) if at else "", author) if part)
            box.set_stamp(bool(stamps) or state == "open", case.state == state, signed)
        verified = self.boxes["verified"]
        set_tip(verified, "" if verified.ticked else self._lacking)
        verified.setAccessibleDescription(verified.toolTip())
        alone = by_count_alone(case)
        if alone:
            self.note.setText(f"{alone[0].upper()}{alone[1:]}")
        if alone or not self._lacking:
            self.note.setVisible(bool(alone))

    def _ask(self, state: CaseState) -> None:
        box = self.boxes[state]
        refused = self._lacking if state == "verified" and not box.ticked else ""
        self.note.setText(f"▲ {refused}")
        self.note.setVisible(bool(refused))
        if not refused:
            self.wanted.emit(state)
