"""Frame times of the paired traces: ``python -m tests.benchmarks.bench_traces [transitions ...]``.

16 pairs, every trace with its own transitions in bursts and idle stretches, a tie for each transition and a difference
span for each hundredth. The median and the slowest of several frames at each zoom, two zooms to each power of ten,
without marks and then with MARKS of them and both cursors; nothing is judged. Times are the processor's, so that
others at work on the machine count little.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from app.case.values import MARK_KINDS, Mark
from app.model.theme import LIGHT, style_sheet
from app.widgets.frame.frame_style import frame_style
from tests.widgets.hand_built import comparison_of, finding_of
from tracecore.capture import DigitalTrace
from tracecore.comparison import Comparison

if TYPE_CHECKING:
    from app.widgets.traces.paired_traces import PairedTraces

PAIRS, SIZE, FRAMES, GAP_PS, MARKS = 16, (1600, 900), 31, 200_000, 200


def bursts(count: int, seed: int) -> np.ndarray:
    """int64[count + 1] times: gaps of 20 to 400 ns, one in 200 of them up to 2000 times as long."""
    rng = np.random.default_rng(seed)
    gaps = rng.integers(20_000, 2 * GAP_PS, count)
    idle = rng.integers(0, count, max(1, count // 200))
    gaps[idle] *= rng.integers(10, 2000, len(idle))
    return np.concatenate(([0], np.cumsum(gaps)))


def trace(count: int, seed: int) -> DigitalTrace:
    """A trace of ``count`` transitions."""
    times = bursts(count, seed)
    return DigitalTrace(times, (np.arange(len(times)) % 2).astype(np.uint8), int(times[-1]) + GAP_PS)


def crowded(count: int) -> Comparison:
    """16 pairs of traces with ``count`` transitions each."""
    findings = []
    for pair in range(PAIRS):
        good, suspect = trace(count, 2 * pair), trace(count, 2 * pair + 1)
        every = good.transitions_ps[::100]
        spans = np.stack((every, every + GAP_PS // 2), axis=1)
        bit = pair if pair < 8 else None
        findings.append(finding_of(f"S{pair:02d}", good, suspect, spans=spans, bus="S" if pair < 8 else "", bit=bit))
    stop = max(f.good_trace.stop_ps for f in findings if f.good_trace is not None)
    edges = np.arange(0, stop, max(416_000, stop // 10_000_000), dtype=np.int64)
    return comparison_of(findings, edges, rate_hz=Fraction(24_000_000))


def measure(count: int) -> None:
    """Prints a line for each zoom, without marks and with them."""
    from PySide6.QtWidgets import QApplication

    from app.widgets.traces.paired_traces import PairedTraces

    app = QApplication.instance() or QApplication([])
    comparison = crowded(count)
    widget = PairedTraces()
    widget.resize(*SIZE)
    # as in the window: what Qt draws by itself costs more
    widget.setStyleSheet(style_sheet(LIGHT, 1.0) + frame_style(LIGHT, 1.0))
    widget.set_theme(LIGHT, 1.0)
    begun = time.perf_counter()
    widget.set_comparison(comparison)
    print(f"\n{PAIRS} pairs of {count:,} transitions; made ready in {(time.perf_counter() - begun) * 1e3:.0f} ms")
    widget.show()
    # each trace is made ready in a turn of its own
    for _ in range(6 * PAIRS):
        app.processEvents()
    zooms(app, widget)
    widget.set_marks(marks_over(comparison), MARKS // 2)
    start, stop = widget.view()
    for which, place in enumerate((start + (stop - start) // 3, start + (stop - start) // 2)):
        widget.set_cursor(which, place)
    print(f"  with {MARKS} marks and both cursors")
    zooms(app, widget)
    widget.close()


def marks_over(comparison: Comparison) -> list[Mark]:
    """Marks spread over the capture: of all signals, of one, of two, on either side, one to five cycles long."""
    cycles = len(comparison.lineup.good_edges_ps) - 1
    names = [f.signal for f in comparison.signals]
    made = []
    for i in range(1, MARKS + 1):
        first = cycles * i // (MARKS + 2)
        signals = tuple(names[(i + k) % len(names)] for k in range(i % 3))
        side = ("both", "good", "suspect")[i % 3]
        made.append(
            Mark(i, MARK_KINDS[i % 3], f"note of mark {i}", first, min(first + i % 5, cycles - 1), signals, side)
        )
    return made


def zooms(app: object, widget: PairedTraces) -> None:
    """A line for each zoom, from the whole capture to half a nanosecond a pixel."""
    widget.fit()
    start, stop = widget.view()
    whole = (stop - start) // widget.plot_width
    for half_powers in range(16):
        per_px = round(whole / 10 ** (half_powers / 2))
        if per_px < 500:
            break
        jumps = [frame(app, widget, start + (stop - start) * (i + 1) // (FRAMES + 2), per_px) for i in range(FRAMES)]
        t0 = widget.view()[0]
        pans = [frame(app, widget, t0 + i * 8 * per_px, per_px) for i in range(1, FRAMES + 1)]
        print(
            f"  {per_px / 1000:14,.1f} ns/px   jump {statistics.median(jumps):5.1f} (slowest {max(jumps):5.1f})"
            f"   pan {statistics.median(pans):5.1f} (slowest {max(pans):5.1f}) ms"
        )


def frame(app: object, widget: object, t0_ps: int, per_px: int) -> float:
    """Milliseconds of the processor for one whole repaint."""
    begun = time.thread_time()
    widget.set_view(t0_ps, per_px)  # type: ignore[attr-defined]
    widget.repaint()  # type: ignore[attr-defined]
    taken = (time.thread_time() - begun) * 1e3
    app.processEvents()  # type: ignore[attr-defined]
    return taken


if __name__ == "__main__":
    for wanted in [int(float(a)) for a in sys.argv[1:]] or [10**4, 10**6, 10**7]:
        measure(wanted)
