"""Which part of the capture is in view, on the good side's clock. Nothing here imports Qt."""

from __future__ import annotations

import numpy as np

from app.widgets.traces.trace_rows import View
from tracecore.capture import Int64

CLOSE_CYCLES = 11
"""Cycles in view where one is shown."""
LEAST_PX, SPAN_SHARE = 20, 0.6
"""A cycle or a span is shown at least this wide; a span that is too wide or too narrow gets this share of the view."""


class TimeAxis:
    """The view, and what it was asked to show, so that it can be asked again when the width has changed.

    Times are whole picoseconds; ``edges_ps`` are the good side's active edges: int64[N + 1] for N cycles.
    """

    def __init__(self) -> None:
        self.view = View(0, 1000, 1)
        self.span = (0, 1)
        self.edges_ps: Int64 = np.empty(0, np.int64)
        self._fitted = True
        self._wanted_cycle: int | None = None
        self._wanted_span: tuple[int, int] | None = None
        self._close_up = False

    # ---- cycles

    def cycle_at(self, t_ps: int) -> int | None:
        """The good cycle of a time; None outside the active edges."""
        cycle = int(self.edges_ps.searchsorted(t_ps, side="right")) - 1
        return cycle if 0 <= cycle < len(self.edges_ps) - 1 else None

    def cycle_place(self, t_ps: int) -> float | None:
        """A time as cycles and their fraction, 4.5 in the middle of cycle 4; None outside the active edges."""
        cycle = self.cycle_at(t_ps)
        if cycle is None:
            last = len(self.edges_ps) - 1
            return float(last) if last > 0 and t_ps == self.edges_ps[last] else None
        begin, end = (int(t) for t in self.edges_ps[cycle : cycle + 2])
        return cycle + (t_ps - begin) / (end - begin)

    # ---- moving the view

    def _let_go(self) -> None:
        self._fitted, self._wanted_cycle, self._wanted_span, self._close_up = False, None, None, False

    @property
    def fit_ps_per_px(self) -> int:
        """Picoseconds a pixel at which the whole capture is in view."""
        start, stop = self.span
        return max(1, -(-(stop - start) // self.view.width))

    def _show(self, t0_ps: int, ps_per_px: float) -> None:
        start, stop = self.span
        per_px = int(min(max(1, round(ps_per_px)), self.fit_ps_per_px))
        wide = per_px * self.view.width
        # at least a half of the view stays on the capture
        t0 = min(max(t0_ps, start - wide // 2), max(start, stop - wide // 2))
        if per_px == self.fit_ps_per_px:
            t0 = start
        self.view = View(t0, per_px, self.view.width)

    def set_view(self, t0_ps: int, ps_per_px: float) -> None:
        """Shows the time from ``t0_ps`` on; picoseconds a pixel are whole and at least 1."""
        self._let_go()
        self._show(int(t0_ps), ps_per_px)

    def fit(self) -> None:
        """Shows the whole capture, also after the width has changed."""
        self._let_go()
        self._fitted = True
        self._show(self.span[0], self.fit_ps_per_px)

    def zoom(self, factor: float, at_ps: int | None = None) -> None:
        """Above 1 closer, below 1 wider; what is at ``at_ps`` (the middle by default) stays where it is."""
        view = self.view
        at = at_ps if at_ps is not None else view.t0_ps + (view.stop_ps - view.t0_ps) // 2
        wanted = view.ps_per_px / factor
        # rounding must not hold a small step back
        per_px = max(1, int(wanted) if factor > 1 else -int(-wanted // 1))
        per_px = min(per_px, self.fit_ps_per_px)
        x = (at - view.t0_ps) / view.ps_per_px
        self.set_view(at - round(x * per_px), per_px)

    def pan(self, fraction: float) -> None:
        """Moves by a share of the view; positive is later."""
        view = self.view
        self.set_view(view.t0_ps + round(fraction * view.width) * view.ps_per_px, view.ps_per_px)

    def centre_on(self, t_ps: int) -> None:
        """Puts a time in the middle."""
        self.set_view(int(t_ps) - self.view.width * self.view.ps_per_px // 2, self.view.ps_per_px)

    def show_cycle(self, cycle: int) -> bool:
        """Puts a good cycle in the middle, close enough to be seen; False where there is none of that number."""
        if not 0 <= cycle < len(self.edges_ps) - 1:
            return False
        begin, cycle_ps = int(self.edges_ps[cycle]), int(self.edges_ps[cycle + 1] - self.edges_ps[cycle])
        per_px, close_up = self.view.ps_per_px, self._close_up
        again = close_up and self._wanted_cycle is not None
        if again or self._fitted or not LEAST_PX <= cycle_ps / per_px <= self.view.width / 3:
            per_px = max(1, CLOSE_CYCLES * cycle_ps // self.view.width)
            close_up = True
        self._let_go()
        self._wanted_cycle, self._close_up = cycle, close_up
        self._show(begin + cycle_ps // 2 - per_px * self.view.width // 2, per_px)
        return True

    def show_span(self, start_ps: int, stop_ps: int) -> None:
        """Puts a stretch of time in the middle, as wide as it needs to be seen in full."""
        wide, per_px = max(1, stop_ps - start_ps), self.view.ps_per_px
        if not LEAST_PX <= wide / per_px <= self.view.width * SPAN_SHARE:
            per_px = max(1, round(wide / (self.view.width * SPAN_SHARE)))
        self._let_go()
        self._wanted_span = (start_ps, stop_ps)
        self._show(start_ps + wide // 2 - per_px * self.view.width // 2, per_px)

    def set_width(self, pixels: int) -> None:
        """Another width; ``again`` then shows what was asked for."""
        self.view = View(self.view.t0_ps, self.view.ps_per_px, max(1, pixels))

    def again(self) -> None:
        """After a change of width the view that was asked for holds again."""
        if self._fitted:
            self.fit()
        elif self._wanted_cycle is not None:
            self.show_cycle(self._wanted_cycle)
        elif self._wanted_span is not None:
            self.show_span(*self._wanted_span)
        else:
            self._show(self.view.t0_ps, self.view.ps_per_px)
