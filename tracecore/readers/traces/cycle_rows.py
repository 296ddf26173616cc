"""Cycle rows, which the board's own clock took: each is one cycle, and nothing tells when within it a signal moved.

Sample,ADDR (octal),RD      an analyser that took a sample at each edge of the board's clock,
0,0017,1                    whatever the time between two of them
1,0020,0
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from tracecore.capture import Capture, DigitalTrace, digital_trace, sample_time_ps
from tracecore.errors import UnknownCapture
from tracecore.own_names import CYCLE_ROWS, EACH_ROW
from tracecore.quantities import PS_PER_S, format_rate
from tracecore.readers.headings.own_comment import NOTHING_CARRIED
from tracecore.readers.plan.plan import SAMPLED, Plan

PLAIN_HZ = Fraction(1_000_000)
"""A row lasts a microsecond where nobody says how fast the board's clock is; whole, so that no row is rounded."""
_PARTS = 32
"""Of a row: its signals change one part after the edge that begins it, as registers do, so that the state of a cycle is
that of its row."""


def no_cycle_rows(path: str, found: str) -> UnknownCapture:
    """The error for a file in which no row is a cycle of the board."""
    return UnknownCapture(
        path,
        found=found,
        expected="rows of logic, where each is one cycle of the board's clock",
        do="Read it by another layout, or leave such columns out (--column).",
    )


def as_cycles(path: str, plan: Plan) -> Plan:
    """The plan without what it states of the instrument's clock; times that stand beside the rows are left out, which
    is told. Raises UnknownCapture where its rows hold volts."""
    if plan.volts:
        raise no_cycle_rows(path, f"volts in column {plan.volts[0].name}")
    plan = replace(plan, layout=SAMPLED, rates=(), carried=NOTHING_CARRIED)
    if plan.time is None or plan.time.form == "index":
        return plan
    columns = tuple(replace(c, kind="leave out", form="") if c is plan.time else c for c in plan.columns)
    facts = (*plan.facts, ("left out, as each row is a cycle", f"the times in column {plan.time.name}"))
    return replace(plan, columns=columns, index=None, unknown_unit="", time_heading="", facts=facts)


def by_cycles(capture: Capture, rate_hz: Fraction | None) -> Capture:
    """A capture that was read at ``PLAIN_HZ``, with a signal that counts its rows. ``rate_hz`` is that of the board's
    clock, where it was said. Raises UnknownCapture where a signal has the name of the counting one."""
    if EACH_ROW in capture.digital:
        raise UnknownCapture(
            capture.path,
            found=f"a signal named {EACH_ROW}",
            expected="another name, as this one counts the rows",
            do="Rename that column, or leave it out (--column).",
        )
    rate = rate_hz or PLAIN_HZ
    one = int(PS_PER_S / PLAIN_HZ)
    first, stop = capture.start_ps // one, capture.stop_ps // one
    lasts = int(PS_PER_S / rate)
    part = max(1, lasts // _PARTS)

    def begins(rows: np.ndarray) -> np.ndarray:
        return np.asarray(sample_time_ps(rows - first, rate) + part)

    end = int(begins(np.array([stop]))[0]) + part
    digital: dict[str, DigitalTrace] = {EACH_ROW: _counting(begins(np.arange(first, stop + 1)), lasts // 2, end)}
    for name, trace in capture.digital.items():
        times = begins(trace.times_ps // one) + part
        times[0] = 0
        digital[name] = DigitalTrace(times, trace.levels.copy(), end)
    said = "not known" if rate_hz is None else format_rate(rate_hz)
    facts = tuple(own for own in capture.facts if own[0] not in ("sample rate", "resolution", "time"))
    facts = (("each row", "one cycle of the board's clock"), ("rate of that clock", said), *facts)
    return replace(capture, digital=digital, resolution_ps=part, facts=facts, reader=CYCLE_ROWS)


def _counting(edges_ps: np.ndarray, half_ps: int, stop_ps: int) -> DigitalTrace:
    """High for half a row from each of ``edges_ps``; the last one ends the last row."""
    times = np.column_stack((edges_ps, edges_ps + half_ps)).ravel()[:-1]
    levels = np.tile(np.array([1, 0], np.uint8), len(edges_ps))[:-1]
    return digital_trace(np.concatenate(([0], times)), np.concatenate(([0], levels)).astype(np.uint8), stop_ps)
