"""Widgets on hand-built comparisons, shown offscreen at a fixed size."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

pytest.importorskip("PySide6")

from app.widgets.traces.paired_traces import PairedTraces
from tests.widgets.hand_built import bench_comparison


@pytest.fixture
def traces(qtbot) -> Iterator[PairedTraces]:
    """The shared comparison in a widget of 1000 x 700."""
    made = PairedTraces()
    qtbot.addWidget(made)
    made.resize(1000, 700)
    made.show()
    made.set_comparison(bench_comparison())
    yield made
    made.close()
