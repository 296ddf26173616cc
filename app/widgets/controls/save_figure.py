"""A drawn widget as a file: SVG, or PNG at twice its size on the screen."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QPoint, QSize
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QFileDialog, QWidget

from app.widgets.controls.painting import painting

FIGURE_FILES = "Drawing (*.svg);;Picture (*.png)"


def save_figure(widget: QWidget, path: str | Path) -> bool:
    """Writes what the widget shows; the end of the name decides the form. False where the file cannot be written."""
    path = Path(path)
    if path.suffix.lower() == ".svg":
        from PySide6.QtSvg import QSvgGenerator

        generator = QSvgGenerator()
        generator.setFileName(str(path))
        generator.setSize(widget.size())
        generator.setViewBox(widget.rect())
        generator.setTitle(widget.accessibleName())
        with painting(generator) as painter:
            if not painter.isActive():
                return False
            widget.render(painter, QPoint())
        return path.is_file()
    picture = QPixmap(QSize(widget.width() * 2, widget.height() * 2))
    picture.setDevicePixelRatio(2)
    widget.render(picture)
    return picture.save(str(path), "PNG")


def ask_and_save(widget: QWidget, name: str) -> str:
    """Asks for a name and writes the figure; returns a line to tell."""
    path, chosen = QFileDialog.getSaveFileName(widget, "Save the figure", name, FIGURE_FILES)
    if not path:
        return ""
    if not Path(path).suffix:
        path += ".png" if "png" in chosen else ".svg"
    if save_figure(widget, path):
        return f"Written: {path}"
    return f"{path}: the figure cannot be written. Choose another place."
