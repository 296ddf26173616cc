"""Where a signal breaks a limit of the part that takes it in, and words for each place. Nothing here imports Qt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tracecore.capture import Int64
from tracecore.quantities import format_time

if TYPE_CHECKING:
    from tracecore.compare.findings import SignalFinding


def _none() -> Int64:
    return np.empty(0, np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class LimitTags:
    """Where a signal breaks what its receiving part needs. ``at_ps`` int64[N] are times on the good side's axis, in
    order; ``words`` say what, for each of them."""

    at_ps: Int64 = field(default_factory=_none)
    words: tuple[str, ...] = ()


def limit_tags(finding: SignalFinding, to_good: Callable[[Int64], Int64]) -> LimitTags:
    """The tags of one signal, both sides; nothing where no part is named."""
    kept = finding.limits
    if kept is None:
        return LimitTags()
    times: list[int] = []
    words: list[str] = []
    for side, readings in (("good side: ", kept.good), ("", kept.suspect)):
        for reading in readings:
            at = reading.breaks_ps if side else to_good(reading.breaks_ps)
            times += at.tolist()
            words += [
                f"{side}{reading.what} {format_time(value, digits=3)}" for value in reading.break_values_ps.tolist()
            ]
    order = np.argsort(np.array(times, np.int64), kind="stable").tolist()
    return LimitTags(np.array([times[k] for k in order], np.int64), tuple(words[k] for k in order))
