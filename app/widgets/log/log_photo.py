"""A photo of an entry: scaled to its place, its caption below, opened large with a press."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPixmap
from PySide6.QtWidgets import (
    QAbstractButton,
    QDialog,
    QDialogButtonBox,
    QLabel,
    QLineEdit,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.case.values import Picture
from app.model.theme import Theme
from app.widgets.controls.label import label
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip

WIDEST_PX, HIGHEST_PX = 260, 220
"""Of a photo in an entry, at 100 %."""
KEEP_SHAPE = Qt.AspectRatioMode.KeepAspectRatio


class PhotoButton(QAbstractButton):
    """The photo itself; keeps its shape."""

    def __init__(self, picture: Picture, photo: QPixmap, theme: Theme, scale: float) -> None:
        super().__init__()
        self._photo, self._theme = photo, theme
        self._shape = photo.size().scaled(round(WIDEST_PX * scale), round(HIGHEST_PX * scale), KEEP_SHAPE)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        policy = QSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setAccessibleName(f"Picture {picture.id}: {picture.caption or picture.name}")
        self.setToolTip("Show it large")

    def sizeHint(self) -> QSize:
        return self._shape.expandedTo(QSize(40, 40))

    def minimumSizeHint(self) -> QSize:
        return QSize(80, 40)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return max(
            40, self._photo.size().scaled(min(width, self._shape.width()), self._shape.height(), KEEP_SHAPE).height()
        )

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
            size = self._photo.size().scaled(self.size(), KEEP_SHAPE)
            area = QRectF(0, 0, size.width(), size.height())
            painter.drawPixmap(area, self._photo, QRectF(self._photo.rect()))
            painter.setPen(QPen(QColor(self._theme.ink if self.hasFocus() else self._theme.rule_strong), 1))
            painter.drawRect(area.adjusted(0, 0, -1, -1))
            if self.hasFocus():
                painter.setPen(QPen(QColor(self._theme.panel), 2, Qt.PenStyle.DotLine))
                painter.drawRect(area.adjusted(3, 3, -4, -4))


class PhotoBox(QWidget):
    """Photo, caption to write, and which picture of the case it is. ``captioned`` carries the new caption."""

    captioned = Signal(str)

    def __init__(self, picture: Picture, photo: QPixmap | None, count: int, theme: Theme, scale: float) -> None:
        super().__init__()
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self._picture = picture
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(4)
        if photo is None:
            down.addWidget(label(f"▲ {picture.name}: the photo is not whole in the case", "warning"))
        else:
            self.photo = PhotoButton(picture, photo, theme, scale)
            self.photo.clicked.connect(lambda: show_large(self, picture, photo))
            down.addWidget(self.photo)
        self.caption = QLineEdit(picture.caption)
        self.caption.setPlaceholderText("What it shows")
        set_tip(self.caption, picture.caption)
        self.caption.setCursorPosition(0)
        self.caption.setAccessibleName(f"Caption of picture {picture.id}")
        self.caption.editingFinished.connect(self._on_caption)
        down.addWidget(self.caption)
        down.addWidget(label(f"picture {picture.id} of {count} · {picture.name}", "muted"))
        down.addStretch(1)

    def _on_caption(self) -> None:
        text = self.caption.text().strip()
        if text != self._picture.caption:
            self.captioned.emit(text)


def show_large(parent: QWidget, picture: Picture, photo: QPixmap) -> None:
    """The photo in a window of its own, as large as the screen allows."""
    dialog = QDialog(parent.window())
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setWindowTitle(picture.caption or picture.name)
    down = QVBoxLayout(dialog)
    room = parent.screen().availableSize() * 0.85
    shown = photo
    if photo.width() > room.width() or photo.height() > room.height():
        shown = photo.scaled(room, Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation)
    area = QScrollArea()
    words = QLabel()
    words.setPixmap(shown)
    words.setAccessibleName(picture.caption or picture.name)
    area.setWidget(words)
    area.setAlignment(Qt.AlignmentFlag.AlignCenter)
    down.addWidget(area)
    buttons = QDialogButtonBox()
    buttons.addButton("Close", QDialogButtonBox.ButtonRole.RejectRole)
    buttons.rejected.connect(dialog.reject)
    down.addWidget(buttons)
    dialog.resize(min(shown.width() + 60, room.width()), min(shown.height() + 120, room.height()))
    dialog.open()
