"""Forms that open above a page and are let go when they are closed."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog


def open_form(form: QDialog) -> None:
    """Opens a form; once closed it is freed, so that a day of work leaves none behind."""
    form.finished.connect(form.deleteLater)
    form.open()
