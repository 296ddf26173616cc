"""Bus words under the traces: good above, suspect below, digits that differ bold."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QFontMetricsF

from app.widgets.controls.signal_name import fixed_font, plain_font
from app.widgets.traces.cycle_scale import visible_cycles
from app.widgets.traces.trace_marks import Pencil
from app.widgets.traces.trace_rows import WordRow
from app.widgets.traces.words import Base, digits_of, word_pairs

if TYPE_CHECKING:
    from tracecore.comparison import Comparison

MOST_CYCLES = 400
"""With more cycles in view hardly a word would find room."""


def draw_words(pencil: Pencil, row: WordRow, comparison: Comparison, base: Base) -> None:
    """Draws one bus; the painter's origin is the plot's left edge and the row's top."""
    view, geometry, painter = pencil.view, pencil.geometry, pencil.painter
    edges = comparison.lineup.good_edges_ps
    first, stop = visible_cycles(view, edges)
    metrics = QFontMetricsF(fixed_font(geometry.scale, 16, bold=True))
    needed = metrics.horizontalAdvance("0") * digits_of(len(row.bits), base) + 8
    lines = geometry.row * 0.40, geometry.row * 0.79
    if stop <= first:
        return
    if stop - first > min(MOST_CYCLES, view.width):
        painter.setFont(plain_font(geometry.scale))
        painter.setPen(QColor(pencil.theme.muted))
        painter.drawText(QPointF(8, geometry.row * 0.6), "… closer for words")
        return
    pairs = word_pairs(row, comparison, first, stop, base)
    room = view.width / (view.stop_ps - view.t0_ps) * float(edges[stop] - edges[first]) / (stop - first)
    # one word a cycle where there is room, else one for each stretch of cycles with the same words
    key = (lambda k: k) if room >= needed else (lambda k: pairs[k - first])
    bars: list[tuple[float, float, bool]] = []
    for _, group in groupby(range(first, stop), key):
        cycles = list(group)
        x = [min(max(view.x_of(int(edges[k])), 0.0), float(view.width)) for k in (cycles[0], cycles[-1] + 1)]
        if x[1] - x[0] >= needed:
            for word, other, line, fore in _sides(pairs[cycles[0] - first], lines):
                _word(pencil, (x[0] + x[1]) / 2, line, word, other, fore)
        else:
            bars.append((x[0], x[1], len(set(pairs[cycles[0] - first])) > 1))
    _bars(pencil, bars, lines)


def _sides(pair: tuple[str, str], lines: tuple[float, float]) -> tuple[tuple[str, str, float, str], ...]:
    good, suspect = pair
    return (good, good, lines[0], "ink"), (suspect, good, lines[1], "suspect_text")


def _word(pencil: Pencil, middle: float, baseline: float, word: str, good: str, fore: str) -> None:
    """Digit by digit, those unlike the good side's bold."""
    painter = pencil.painter
    plain, bold = (fixed_font(pencil.geometry.scale, 16, bold=b) for b in (False, True))
    step = QFontMetricsF(plain).horizontalAdvance("0")
    painter.setPen(QColor(getattr(pencil.theme, fore)))
    x = middle - step * len(word) / 2
    if word == good:
        painter.setFont(plain)
        painter.drawText(QPointF(x, baseline), word)
        return
    for i, (digit, other) in enumerate(zip(word, good, strict=True)):
        painter.setFont(bold if digit != other else plain)
        painter.drawText(QPointF(x + i * step, baseline), digit)


def _bars(pencil: Pencil, bars: list[tuple[float, float, bool]], lines: tuple[float, float]) -> None:
    """Stretches too narrow for a word: a short bar each on both lines, the suspect's thick where the words differ."""
    height = QFontMetricsF(fixed_font(pencil.geometry.scale, 16)).capHeight()
    for line, fore in zip(lines, ("ink", "suspect"), strict=True):
        faint, full = QColor(pencil.theme.mix(fore, "paper", 0.5)), QColor(getattr(pencil.theme, fore))
        for left, right, differs in bars:
            tall = height * 0.6 if differs and fore == "suspect" else 2.0
            area = QRectF(left, line - height / 2 - tall / 2, max(1.0, right - left - 1), tall)
            pencil.painter.fillRect(area, full if differs else faint)
