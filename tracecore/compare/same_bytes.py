"""The same file twice: it counts once on a side, and on both sides it would compare a board with itself. So would one
capture that was written into two files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from tracecore.capture import Capture, DigitalTrace, Int64
from tracecore.compare.capture_signals import CaptureSignals
from tracecore.compare.pair import PairFindings
from tracecore.compare.request import CompareRequest
from tracecore.errors import RequestError
from tracecore.notices import Notice, notice
from tracecore.quantities import group_digits

FEWEST_MOVES = 200
"""So many transitions of two runs, each early or late by up to a sample, never fall on the same samples by chance."""


def each_once(request: CompareRequest) -> tuple[CompareRequest, tuple[Notice, ...]]:
    """The request with each capture once a side, known by SHA-256, and what is to be told of that.

    Raises RequestError where a file is on both sides and ``same_file`` does not say that it is meant.
    """
    both = {c.sha256: c for c in request.good if c.sha256}
    shared = next((c for c in request.suspect if c.sha256 in both), None)
    notices = []
    if shared is not None:
        good = both[shared.sha256]
        if not request.same_file:
            raise RequestError(
                f"{shared.name} on the suspect side is the same file, byte for byte, as {good.name} on the known-good "
                "side; expected two captures. Replace one, or allow the same file for a self-test (--same-file)."
            )
        text = f"Both sides hold the same file ({good.name}): this tests the program, not a board."
        notices.append(notice("self_test", text))
    sides = []
    for captures in (request.good, request.suspect):
        first: dict[str, Capture] = {}
        kept = []
        for capture in captures:
            known = first.get(capture.sha256) if capture.sha256 else None
            if known is None:
                first[capture.sha256] = capture
                kept.append(capture)
            else:
                text = f"{capture.name} has the same bytes as {known.name}: it counts once."
                notices.append(notice("same_bytes", text))
        sides.append(tuple(kept))
    return replace(request, good=sides[0], suspect=sides[1]), tuple(notices)


def same_run_notices(
    request: CompareRequest, shown: PairFindings, good: CaptureSignals, suspect: CaptureSignals
) -> Iterator[Notice]:
    """One notice where all that both captures hold moves at the same samples. Two runs do that only where the sampling
    keeps step with the board's clock."""
    limits, lineup = shown.limits, shown.lineup
    if request.same_file or not lineup or any(limits.in_step) or limits.good_period_ps != limits.suspect_period_ps:
        return
    first = lineup.runs[0]
    shift = int(lineup.suspect_edges_ps[first.suspect_start] - lineup.good_edges_ps[first.good_start])
    start = max(good.capture.start_ps, suspect.capture.start_ps - shift) + limits.good_period_ps
    stop = min(good.capture.stop_ps, suspect.capture.stop_ps - shift) - limits.good_period_ps
    moves = 0
    for signal in shown.found:
        own = _between(good.traces[signal], start, stop)
        other = _between(suspect.traces[signal], start + shift, stop + shift)
        # times may be rounded to the nanosecond; a sample more or less is a whole period
        if len(own) != len(other) or (4 * np.abs(other - shift - own) > limits.good_period_ps).any():
            return
        moves += len(own)
    if moves >= FEWEST_MOVES:
        text = f"Both sides move at the same samples throughout, {group_digits(moves)} transitions"
        yield notice("same_run", f"{text}: this looks like one capture, twice.")


def first_of(captures: Sequence[Capture], capture: Capture) -> Capture:
    """The first capture with the same bytes; itself where it is that, or where its bytes are not known.

    The same object twice, of bytes that are not known, is taken for two captures.
    """
    return next((c for c in captures if c.sha256 and c.sha256 == capture.sha256), capture)


def _between(trace: DigitalTrace, start_ps: int, stop_ps: int) -> Int64:
    """The transitions from ``start_ps`` (closed) to ``stop_ps`` (open)."""
    return trace.transitions_ps[slice(*trace.transitions_ps.searchsorted((start_ps, stop_ps)))]
