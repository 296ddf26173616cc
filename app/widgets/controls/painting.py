"""A painter that is ended whatever happens: one that an error leaves at work on a widget ends the whole process."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from PySide6.QtGui import QPaintDevice, QPainter


@contextmanager
def painting(on: QPaintDevice) -> Iterator[QPainter]:
    """Paints on a widget or a picture. An error goes on to whoever shows it, behind the painter's end."""
    painter = QPainter(on)
    try:
        yield painter
    finally:
        painter.end()
