"""Long traces and many spans are made ready for drawing one at a time, lest the window stand still."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QObject, QTimer

from app.widgets.traces.trace_rows import TraceRow


class ReadySoon(QTimer):
    """Works between what else the window does; other rows take the place of those before."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent, singleShot=True, interval=0)
        self._rows: Sequence[TraceRow] = ()
        self.timeout.connect(self._make_one_ready)

    def begin(self, rows: Sequence[TraceRow]) -> None:
        """Makes these ready, one after another."""
        self._rows = rows
        self.start()

    def _make_one_ready(self) -> None:
        parts = (part for row in self._rows for part in (row.good, row.suspect, row.differing))
        waiting = next((part for part in parts if part is not None and not part.is_ready), None)
        if waiting is not None:
            waiting.make_ready()
            self.start()
