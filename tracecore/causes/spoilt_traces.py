"""Causes that rest on a trace which the instrument spoilt: they come last, and say so first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from tracecore.compare.findings import Cause
from tracecore.notices import NOTICE_KINDS


def behind_believed(causes: tuple[Cause, ...], unbelieved: Mapping[str, str]) -> tuple[Cause, ...]:
    """The causes, those of ``unbelieved`` signals last; each of these says by its sentence why, and to capture again
    before anything is probed."""
    if not any(cause.signal in unbelieved for cause in causes):
        return causes
    ordered = sorted(causes, key=lambda cause: cause.signal in unbelieved)
    return tuple(
        replace(_told(cause, unbelieved[cause.signal]) if cause.signal in unbelieved else cause, rank=rank)
        for rank, cause in enumerate(ordered, start=1)
    )


def _told(cause: Cause, sentence: str) -> Cause:
    first = f"{sentence} {NOTICE_KINDS['volts_spoilt'].do}"
    probe = f"Not yet: capture {cause.signal} again. If that shows the same: {cause.probe_next}"
    return replace(cause, because=(first, *cause.because), probe_next=probe)
