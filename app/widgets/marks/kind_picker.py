"""Kinds of mark side by side, each with its shape and word; one of them is picked."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QSizePolicy, QWidget

from app.case.values import MARK_KINDS, MarkKind
from app.model.theme import LIGHT, Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.signal_name import plain_font
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from app.widgets.traces.mark_tags import SHAPE, draw_kind


class KindButton(QAbstractButton):
    """A ruled box with shape and word; picked, it has tint, ink edge and bold word together."""

    def __init__(self, kind: MarkKind | None, words: bool = True) -> None:
        super().__init__()
        self.kind = kind
        self._words = (kind or "all") if words or kind is None else ""
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(kind or "all kinds")
        set_tip(self, f"Marks of the kind {kind}" if kind else "Marks of all kinds")
        self._theme, self._scale = LIGHT, 1.0

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        metrics = QFontMetricsF(plain_font(self._scale, bold=True))
        shape = (SHAPE + (7 if self._words else 1)) * self._scale if self.kind else 0.0
        words = metrics.horizontalAdvance(self._words)
        return QSize(round(shape + words + 14 * self._scale), round(metrics.height() + 8 * self._scale))

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, scale, picked = self._theme, self._scale, self.isChecked()
        with painting(self) as painter:
            painter.fillRect(self.rect(), QColor(theme.tint if picked else theme.panel))
            painter.setPen(QPen(QColor(theme.ink if picked else theme.rule_strong), 2 if picked else 1))
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
            left = 7 * scale
            if self.kind is not None:
                draw_kind(painter, self.kind, left, self.height() / 2, SHAPE * scale, theme.ink)
                left += (SHAPE + 7) * scale
            painter.setFont(plain_font(scale, bold=picked))
            painter.setPen(QColor(theme.ink))
            area = self.rect().adjusted(round(left), 0, 0, 0)
            painter.drawText(area, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft), self._words)
            if self.hasFocus():
                painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DotLine))
                painter.drawRect(self.rect().adjusted(4, 4, -4, -4))


class KindPicker(QWidget):
    """``picked`` tells that another kind was chosen. With ``every`` there is a box for all kinds too."""

    picked = Signal()

    def __init__(self, *, every: bool = False, words: bool = True) -> None:
        super().__init__()
        row = WrapRow(self, gap=6)
        self.buttons: dict[MarkKind | None, KindButton] = {}
        self._group = QButtonGroup(self)
        kinds: tuple[MarkKind | None, ...] = (None, *MARK_KINDS) if every else MARK_KINDS
        for kind in kinds:
            button = KindButton(kind, words)
            self._group.addButton(button)
            row.addWidget(button)
            self.buttons[kind] = button
        self.buttons[kinds[0]].setChecked(True)
        self._group.buttonToggled.connect(lambda _button, on: self.picked.emit() if on else None)

    @property
    def kind(self) -> MarkKind | None:
        """The picked kind, None for all of them."""
        return next((kind for kind, button in self.buttons.items() if button.isChecked()), None)

    def pick(self, kind: MarkKind | None) -> None:
        """Picks one."""
        self.buttons[kind].setChecked(True)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        for button in self.buttons.values():
            button.set_theme(theme, scale)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Left and Right go from box to box."""
        kinds = list(self.buttons)
        step = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}.get(Qt.Key(event.key()), 0)
        if not step:
            super().keyPressEvent(event)
            return
        kind = kinds[min(max(kinds.index(self.kind) + step, 0), len(kinds) - 1)]
        self.pick(kind)
        self.buttons[kind].setFocus()
