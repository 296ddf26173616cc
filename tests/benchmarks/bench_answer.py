"""How long the window stands still for an answer: ``python -m tests.benchmarks.bench_answer [transitions ...]``.

A window with all seven pages made takes the comparison of ``bench_traces`` for its own. The work of the answer, then
the longest turns of the event loop, then frames of the whole window by zoom, all in the processor's time; nothing is
judged.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from tests.benchmarks.bench_traces import SIZE, crowded

AFTER_S, FRAMES = 8, 21


def measure(count: int, folder: Path) -> None:
    """Prints the answer's own work, what came behind it, and a line for each zoom."""
    from PySide6.QtWidgets import QApplication

    from app.model.settings import Settings
    from app.shell.window import Window
    from app.steps.step import all_steps
    from demo_traces import CASES

    app = QApplication.instance() or QApplication([])
    window = Window(Settings(folder / "settings.ini"))
    window.resize(*SIZE)
    window.show()
    window.files.open_demo(CASES["receiver"])
    while not (window.session.current and window.jobs.idle):
        app.processEvents()
    for step in all_steps():
        window.show_page(step.name)
        app.processEvents()
    window.show_page("compare")
    assert window.session.comparison is not None
    found = replace(crowded(count), request=window.session.comparison.request)
    # as in the program, where the job that compares has asked for it
    assert found.outcome is not None
    begun = time.thread_time()
    window.session.answered(window.session.case, found)
    taken = (time.thread_time() - begun) * 1e3
    turns, end = [], time.monotonic() + AFTER_S
    while time.monotonic() < end:
        turns.append(turn(app))
    longest = ", ".join(f"{ms:.0f}" for ms in sorted(turns)[:-5:-1])
    print(f"\n16 pairs of {count:,} transitions: answer {taken:.0f} ms, then at most {longest} ms at a stretch")
    traces = window.pages["compare"].traces  # type: ignore[attr-defined]
    traces.fit()
    start, stop = traces.view()
    for half_powers in range(16):
        per_px = max(1, round((stop - start) / traces.plot_width / 10 ** (half_powers / 2)))
        frames = []
        for i in range(FRAMES):
            begun = time.thread_time()
            traces.set_view(start + (stop - start) * (i + 1) // (FRAMES + 2), per_px)
            app.processEvents()
            frames.append((time.thread_time() - begun) * 1e3)
        print(f"  {per_px / 1000:14,.1f} ns/px   {statistics.median(frames):5.1f} (slowest {max(frames):5.1f}) ms")
    window.close()


def turn(app: object) -> float:
    """Milliseconds of the processor for what waits in the event loop."""
    begun = time.thread_time()
    app.processEvents()  # type: ignore[attr-defined]
    return (time.thread_time() - begun) * 1e3


if __name__ == "__main__":
    for wanted in [int(float(a)) for a in sys.argv[1:]] or [10**6, 10**7]:
        with tempfile.TemporaryDirectory() as made:
            os.environ["TWINSLOT_SETTINGS"] = made
            for name in ("CONFIG", "DATA", "CACHE", "STATE"):
                os.environ[f"XDG_{name}_HOME"] = made
            measure(wanted, Path(made))
