"""An error while painting is an error like others: the painter is ended, and the process lives."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from PySide6.QtGui import QPaintEvent
from PySide6.QtWidgets import QWidget

import app
from app.widgets.controls.painting import painting

ELSEWHERE = {"painting.py", "printing.py"}
"""Where a painter is made by hand: it is ended in any case there, and a printer's end is asked whether it went well."""


class Failing(QWidget):
    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            assert painter.isActive()
            raise LookupError("no such pin")


def test_an_error_while_painting_leaves_no_painter_at_work(qtbot) -> None:
    widget = Failing()
    qtbot.addWidget(widget)
    with pytest.raises(LookupError, match="no such pin"):
        widget.grab()
    assert not widget.paintingActive()


def test_all_painters_are_ended_whatever_happens() -> None:
    bare = []
    for path in Path(app.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("QPainter"):
                bare.append(path.name)
    assert set(bare) <= ELSEWHERE
