"""A capture at a glance: one band a channel, the shade tells how much it moves."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QSize
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.theme import LIGHT, Theme
from tracecore.capture import Capture
from tracecore.columns import VoltColumns

BAND, STEPS = 6, 5
"""Height of a band with its gap, and how many shades there are."""


class Thumbnail(QWidget):
    """A still channel keeps a base line, so that "captured but quiet" differs from "absent"."""

    def __init__(self, capture: Capture, side: str, theme: Theme = LIGHT, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._capture, self._side, self._theme = capture, side, theme
        self._activity: np.ndarray | None = None
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        still = sum(len(t.times_ps) == 1 for t in capture.digital.values())
        words = f"{len(capture.channels)} channels of {capture.name}"
        self.setAccessibleName(words + (f", {still} of them still" if still else ""))
        self.setToolTip(self.accessibleName())

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self._theme = theme
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(100, min(96, max(24, BAND * len(self._capture.channels))))

    def activity(self, width: int) -> np.ndarray:
        """How much each channel moves in each column, 0 (still) to 1: float[channels, width]."""
        capture = self._capture
        columns = np.linspace(capture.start_ps, capture.stop_ps, width + 1).round().astype(np.int64)
        rows = []
        for name in capture.channels:
            if name in capture.digital:
                rows.append(np.diff(capture.digital[name].transitions_ps.searchsorted(columns)).astype(float))
            else:
                low, high = VoltColumns(capture.analog[name]).extremes(columns)
                rows.append(np.nan_to_num(high - low).astype(float))
        table = np.array(rows)
        # the busiest channel would leave all others blank: a root brings them up
        return np.sqrt(table / np.maximum(table.max(axis=1, keepdims=True), 1e-9))

    def paintEvent(self, event: QPaintEvent) -> None:
        width, height = self.width(), self.height()
        if self._activity is None or self._activity.shape[1] != width:
            self._activity = self.activity(width)
        count = len(self._activity)
        band = max(1, height // count)
        steps = np.ceil(self._activity * STEPS).astype(int)
        fore = "ink" if self._side == "good" else "suspect"
        shades = [QColor(self._theme.mix(fore, "panel", 0.15 + 0.7 * i / STEPS)).rgb() for i in range(STEPS + 1)]
        shades[0] = QColor(self._theme.panel).rgb()
        picture = np.full((max(height, band * count), width), shades[0], np.uint32)
        for i, row in enumerate(np.array(shades, np.uint32)[steps]):
            picture[i * band : max(i * band + 1, (i + 1) * band - 1)] = row
            picture[(i + 1) * band - 2 if band > 2 else i * band][steps[i] == 0] = QColor(self._theme.muted).rgb()
        painter = QPainter(self)
        painter.drawImage(0, 0, QImage(picture.data, width, len(picture), 4 * width, QImage.Format.Format_RGB32))
        painter.end()
