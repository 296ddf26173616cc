"""A capture at a glance: one band a channel, the shade tells how much it moves."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.case.activity_thumbnail import DARKEST, WIDTH
from app.case.values import HeldCapture
from app.model.capture_cards import NamedShades
from app.model.theme import LIGHT, Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.signal_name import draw_signal_name, plain_font
from app.widgets.controls.tip import set_tip
from tracecore.own_names import file_channels

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
        words = f"{len(file_channels(capture.channels, capture.reader))} channels of {capture.name}"
        self.setAccessibleName(words + (f", {still} of them still" if still else ""))
        set_tip(self, self.accessibleName())

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
        with painting(self) as painter:
            painter.drawImage(0, 0, QImage(picture.data, width, len(picture), 4 * width, QImage.Format.Format_RGB32))


ROW = 1.32
"""Height of a row in heights of its letters: an overbar stands nearer to its own name than to the one above."""


class ChannelShades(QWidget):
    """The channels of an open card: each signal's name and its shades; the names of accused leads stand out."""

    def __init__(self, channels: tuple[NamedShades, ...], side: str, theme: Theme, scale: float) -> None:
        super().__init__()
        self._channels, self._side, self._theme, self._scale = channels, side, theme, scale
        self._band = 58 * scale
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        still = [c.signal for c in channels if not c.shades.strip("0")]
        self.setAccessibleName(f"{len(channels)} channels" + (f"; still: {', '.join(still)}" if still else ""))

    def _cell(self) -> tuple[float, float, float]:
        """Widths of the widest name and of a whole cell, and the height of a row."""
        metrics = QFontMetricsF(plain_font(self._scale, bold=True))
        name = max((metrics.horizontalAdvance(c.signal) for c in self._channels), default=0.0) + 8 * self._scale
        name = min(name, 150 * self._scale)
        return name, name + self._band + 14 * self._scale, metrics.height() * ROW

    def _columns(self, width: int) -> int:
        return max(1, int(width / self._cell()[1]))

    def heightForWidth(self, width: int) -> int:
        return round(-(-len(self._channels) // self._columns(width)) * self._cell()[2]) + 2

    def hasHeightForWidth(self) -> bool:
        return True

    def sizeHint(self) -> QSize:
        width = round(2 * self._cell()[1])
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        return QSize(round(self._cell()[1]), round(self._cell()[2]))

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            name, cell, high = self._cell()
            rows = -(-len(self._channels) // self._columns(self.width()))
            for i, channel in enumerate(self._channels):
                x, y = (i // max(1, rows)) * cell, (i % max(1, rows)) * high
                painter.setFont(plain_font(self._scale, bold=channel.accused))
                painter.setPen(QColor(self._theme.warning_text if channel.accused else self._theme.ink))
                metrics = QFontMetricsF(painter.font())
                baseline = y + high - metrics.descent() - high * 0.03
                draw_signal_name(painter, x, baseline, channel.signal, channel.active, name - 8 * self._scale)
                self._draw_shades(painter, channel.shades, x + name, y + high * 0.22, self._band, high * 0.6)

    def _draw_shades(self, painter: QPainter, shades: str, x: float, y: float, wide: float, high: float) -> None:
        fore, step = "ink" if self._side == "good" else "suspect", wide / max(1, len(shades))
        for i, digit in enumerate(shades):
            if digit != "0":
                colour = QColor(self._theme.mix(fore, "panel", 0.15 + 0.7 * int(digit) / DARKEST))
                painter.fillRect(QRectF(x + i * step, y, step + 0.4, high), colour)
        painter.fillRect(QRectF(x, y + high - 1, wide, 1), QColor(self._theme.muted))
