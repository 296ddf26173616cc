"""Two instruments on one run: a scope and a logic instrument joined through a signal that both hold.

Both saw the same transitions at the same instants, so the spans between them are the same but for sampling and the two
crystals. The shorter list of transitions is sought in the longer one by its spans; where it fits in more than one
place (an even clock fits everywhere), the captures cannot be joined and that is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from tracecore.capture import AnalogTrace, Capture, DigitalTrace, Int64
from tracecore.errors import RequestError
from tracecore.quantities import format_time

_FEWEST = 8
_LARGEST_RATIO = 300e-6
"""Crystals of instruments differ by less (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """One capture out of two. ``offset_ps`` is added to the scope's times at its first shared transition;
    ``uncertainty_ps`` is what that reads to; ``ratio_ppm`` how much longer the scope's seconds are; ``shared`` how many
    transitions pair, of which the furthest lies ``residual_ps`` apart."""

    capture: Capture
    through: str
    offset_ps: int
    uncertainty_ps: int
    ratio_ppm: float
    shared: int
    residual_ps: int

    @property
    def sentence(self) -> str:
        """What was found, in one sentence."""
        return (
            f"Joined through {self.through}: {self.shared} transitions pair, offset "
            f"{format_time(self.offset_ps, sign=True)} ±{format_time(self.uncertainty_ps)}, clocks "
            f"{self.ratio_ppm:+.1f} ppm apart."
        )


def join(
    logic: Capture, scope: Capture, channels: tuple[str, str], logic_trace: DigitalTrace, scope_trace: DigitalTrace
) -> Joined:
    """Joins a logic and a scope capture of one run. ``channels`` name the shared signal in each; its traces are given
    as logic. The result is on the logic instrument's time and holds the shared signal once, as logic.

    Raises RequestError where the shared signal moves too little, fits nowhere, or fits in more than one place.
    """
    a, b = logic_trace.transitions_ps, scope_trace.transitions_ps
    name = channels[0]
    if min(len(a), len(b)) < _FEWEST:
        raise RequestError(
            f"{name} has {len(a)} and {len(b)} transitions in the two captures; at least {_FEWEST} are wanted to join "
            "them. Share a signal that moves more."
        )
    slack = logic.resolution_ps + scope.resolution_ps
    swapped = len(a) < len(b)
    longer, shorter = (b, a) if swapped else (a, b)
    level = (scope_trace if swapped else logic_trace).levels[1:]
    begins = (logic_trace if swapped else scope_trace).levels[1]
    places = _places(longer, shorter, slack)
    places = places[level[places] == begins]
    if not len(places):
        raise RequestError(
            f"{name} does not move alike in {logic.name} and {scope.name}, so they are not of one run, or not of the "
            "same stretch. Trigger both at once."
        )
    if len(places) > 1:
        raise RequestError(
            f"{name} fits in {len(places)} places: it is too even to tell which. Share a signal that moves unevenly, "
            "such as a reset or a strobe, or begin both captures with the same trigger."
        )
    k = int(places[0])
    paired = longer[k : k + len(shorter)]
    on_logic, on_scope = (shorter, paired) if swapped else (paired, shorter)
    return _joined(logic, scope, channels, on_logic, on_scope, slack)


def _places(longer: Int64, shorter: Int64, slack: int) -> Int64:
    """Where the spans of ``shorter`` fit into those of ``longer``, each to ``slack`` and the crystals' difference."""
    since = shorter - shorter[0]
    room = slack + (since * _LARGEST_RATIO).astype(np.int64)
    places = np.arange(len(longer) - len(shorter) + 1)
    for step in range(1, len(shorter)):
        # each further transition leaves fewer places; most go at the first few
        gap = longer[places + step] - longer[places] - since[step]
        places = places[np.abs(gap) <= room[step]]
        if not len(places):
            break
    return np.asarray(places, np.int64)


def _joined(
    logic: Capture, scope: Capture, channels: tuple[str, str], on_logic: Int64, on_scope: Int64, slack: int
) -> Joined:
    since = (on_scope - on_scope[0]).astype(np.float64)
    gap = (on_logic - on_scope).astype(np.float64)
    # a line through the pairs: its slope is the crystals' ratio, where the stretch is long enough to tell it
    slope, at_first = np.polyfit(since, gap, 1) if since[-1] * _LARGEST_RATIO > slack else (0.0, float(gap.mean()))
    residual = gap - (at_first + slope * since)
    ratio = Fraction(round((1 + slope) * 10**12), 10**12)
    first = int(on_scope[0])
    analog = {}
    for channel, trace in scope.analog.items():
        if channel == channels[1]:
            continue
        start = first + round(at_first) + round((trace.start_ps - first) * ratio)
        analog[channel] = AnalogTrace(start, trace.interval_ps * ratio, trace.volts)
    double = set(analog) & set(logic.digital)
    digital = {name: trace for name, trace in logic.digital.items() if name not in double}
    both = Capture(
        f"{logic.name} with {scope.name}",
        digital,
        {**analog, **logic.analog},
        max(logic.resolution_ps, 1),
        logic.reader,
        logic.path,
        logic.sha256,
        logic.facts,
        (*logic.notes, *scope.notes),
    )
    reads_to = slack / 2 / np.sqrt(len(on_logic)) * 2 + float(np.abs(np.median(residual)))
    return Joined(
        both,
        channels[0],
        round(at_first),
        max(1, round(reads_to)),
        slope * 1e6,
        len(on_logic),
        int(np.abs(residual).max()),
    )
