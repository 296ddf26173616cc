"""A capture at a glance: one band a channel, the shade tells how much it moves."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QSize
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.case.shades import DARKEST, WIDTH
from app.case.values import HeldCapture
from app.model.theme import LIGHT, Theme

BAND = 6
"""Height of a band with its gap."""


class Thumbnail(QWidget):
    """A still channel keeps a base line, so that "captured but quiet" differs from "absent"."""

    def __init__(self, capture: HeldCapture, side: str, theme: Theme = LIGHT, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._side, self._theme = side, theme
        self._shades = np.array([[int(digit) for digit in row] for row in capture.shades], np.uint8)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        still = int((~self._shades.any(axis=1)).sum()) if self._shades.size else 0
        words = f"{len(capture.channels)} channels of {capture.name}"
        self.setAccessibleName(words + (f", {still} of them still" if still else ""))
        self.setToolTip(self.accessibleName())

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(WIDTH, min(96, max(24, BAND * len(self._shades))))

    def paintEvent(self, event: QPaintEvent) -> None:
        if not self._shades.size:
            return
        width, height = self.width(), self.height()
        count = len(self._shades)
        band = max(1, height // count)
        steps = self._shades[:, np.arange(width) * WIDTH // width]
        fore = "ink" if self._side == "good" else "suspect"
        shades = [QColor(self._theme.mix(fore, "panel", 0.15 + 0.7 * i / DARKEST)).rgb() for i in range(DARKEST + 1)]
        shades[0] = QColor(self._theme.panel).rgb()
        picture = np.full((max(height, band * count), width), shades[0], np.uint32)
        for i, row in enumerate(np.array(shades, np.uint32)[steps]):
            picture[i * band : max(i * band + 1, (i + 1) * band - 1)] = row
            picture[(i + 1) * band - 2 if band > 2 else i * band][steps[i] == 0] = QColor(self._theme.muted).rgb()
        painter = QPainter(self)
        painter.drawImage(0, 0, QImage(picture.data, width, len(picture), 4 * width, QImage.Format.Format_RGB32))
        painter.end()
