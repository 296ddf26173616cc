"""Paper: a PDF that was written, or the open page as it is shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QImage, QPainter

from app.model.report_files import page_pictures

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter
    from PySide6.QtWidgets import QWidget

DOTS_PER_INCH = 200


def ask_printer(parent: QWidget) -> QPrinter | None:
    """Asks for a printer; None where the person thinks better of it."""
    from PySide6.QtPrintSupport import QPrintDialog, QPrinter

    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    return printer if QPrintDialog(printer, parent).exec() else None


def ask_and_print(parent: QWidget, pictures: Callable[[], Sequence[QImage]]) -> str:
    """Asks for a printer and prints; returns a line to tell, empty where nothing was to be printed after all."""
    printer = ask_printer(parent)
    if printer is None:
        return ""
    return "Sent to the printer" if print_pictures(printer, pictures()) else "The printer did not take it"


def pdf_pictures(path: Path) -> tuple[QImage, ...]:
    """The pages of a PDF, fine enough for paper."""
    return page_pictures(path.read_bytes(), DOTS_PER_INCH)


def print_pictures(printer: QPrinter, pictures: Sequence[QImage]) -> bool:
    """Each picture on a sheet of its own, as large as it fits; False where the printer does not take it."""
    painter = QPainter()
    if not painter.begin(printer):
        return False
    for number, picture in enumerate(pictures):
        if number:
            printer.newPage()
        room = painter.viewport()
        size = picture.size().scaled(room.size(), Qt.AspectRatioMode.KeepAspectRatio)
        painter.drawImage(QRect(room.topLeft(), size), picture)
    return bool(painter.end())
