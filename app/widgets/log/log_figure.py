"""The trace figure of an entry: drawn where the captures it is of are compared now, else what it is of in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from app.case.record import OpenCase
from app.case.values import Figure
from app.model.theme import Theme
from app.widgets.controls.label import label

if TYPE_CHECKING:
    from app.model.session import Session
    from tracecore.comparison import Comparison

LEAST_WIDTH_PX = 340
"""Of a figure at 100 %."""


def figure_comparison(session: Session, figure: Figure) -> Comparison | None:
    """The comparison that the figure is of, if it is at hand: of the same pair of captures."""
    if not session.current or session.comparison is None:
        return None
    good, suspect = session.case.good.shown_capture, session.case.suspect.shown_capture
    for wanted, shown in ((figure.good, good), (figure.suspect, suspect)):
        if wanted and (shown is None or shown.key != wanted):
            return None
    known = any(finding.signal == figure.signal for finding in session.comparison.signals)
    return session.comparison if known else None


def figure_rows(comparison: Comparison, signal: str) -> tuple[str, ...]:
    """The clock, the signal, and the neighbour above it: what fits beside a photo."""
    names = [finding.signal for finding in comparison.signals]
    at = names.index(signal)
    return tuple(dict.fromkeys((names[0], names[max(0, at - 1)], signal)))


def pair_words(case: OpenCase, figure: Figure) -> str:
    """The captures a figure is of: ``good.csv against suspect.csv``, or its caption where they are gone."""
    names = {held.key: held.name for held in case.captures}
    pair = [names[key] for key in (figure.good, figure.suspect) if key in names]
    return " against ".join(pair) if len(pair) == 2 else figure.caption


def figure_widget(session: Session, figure: Figure, theme: Theme, scale: float, width: int) -> QWidget:
    """The figure, or a sentence where it cannot be drawn now. ``width`` pixels are there; where these are few for
    the text size, its letters are smaller than the text, but not below 100 %."""
    comparison = figure_comparison(session, figure)
    if comparison is not None:
        from app.widgets.controls.figure_view import FigureView

        view = FigureView()
        view.set_theme(theme, max(1.0, min(scale, width / LEAST_WIDTH_PX)))
        view.setMinimumWidth(min(width, LEAST_WIDTH_PX))
        if view.show_figure(comparison, figure.signal, cycle=figure.cycle, rows=figure_rows(comparison, figure.signal)):
            return _framed(view)
        view.deleteLater()
    pair = pair_words(session.case, figure) or "captures that are not here"
    return label(
        f"Figure of {figure.signal}, {pair}. It is drawn when that pair is compared; Go to cycle does that.", "muted"
    )


def _framed(view: QWidget) -> QFrame:
    frame = QFrame()
    frame.setObjectName("card")
    inside = QVBoxLayout(frame)
    inside.setContentsMargins(4, 4, 4, 4)
    inside.addWidget(view)
    return frame
