"""Which files a person may choose or drop as photos: those that a case takes."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QMimeData

from app.case.photos import ENDS

PHOTO_FILES = f"Photos ({' '.join('*' + end for end in ENDS)});;All files (*)"
"""The choice of a file dialog."""


def photos_of(data: QMimeData) -> list[Path]:
    """The photos that are dragged; none where anything else is among them."""
    paths = [Path(url.toLocalFile()) for url in data.urls() if url.isLocalFile()]
    return paths if paths and all(path.suffix.lower() in ENDS for path in paths) else []
