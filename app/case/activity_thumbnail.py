"""A capture at a glance, as digits: how much each channel moves in each of a hundred stretches."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tracecore.pixel_columns import VoltColumns

if TYPE_CHECKING:
    from tracecore.capture import Capture

WIDTH, DARKEST = 100, 9


def shades(capture: Capture) -> tuple[str, ...]:
    """A row of ``WIDTH`` digits a channel: 0 still, 9 busiest for that channel.

    The busiest stretch would leave all others blank: a square root brings them up.
    """
    columns = np.linspace(capture.start_ps, capture.stop_ps, WIDTH + 1).round().astype(np.int64)
    rows = []
    for name in capture.channels:
        if name in capture.digital:
            moves = np.diff(capture.digital[name].transitions_ps.searchsorted(columns)).astype(float)
        else:
            low, high = VoltColumns(capture.analog[name]).extremes(columns)
            moves = np.nan_to_num(high - low).astype(float)
        share = np.sqrt(moves / max(float(moves.max()), 1e-9))
        rows.append("".join(map(str, np.ceil(share * DARKEST).astype(int).tolist())))
    return tuple(rows)
