"""Two instruments on one run: a scope and a logic instrument joined through a signal that both hold.

Both saw the same transitions at the same instants, so the spans between them are the same but for sampling and the two
crystals. The shorter list of transitions is sought in the longer one by its spans. Where it fits in more than one
place, as an even clock does, the place nearest to a common time zero is taken, and what else fits is told: which cycle
a violation falls in is then known only to within whole multiples of that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from tracecore.capture import AnalogTrace, Capture, DigitalTrace, Int64
from tracecore.errors import RequestError
from tracecore.measure.families import family
from tracecore.measure.levels import digitise
from tracecore.measure.state_levels import reference_level, state_levels
from tracecore.own_names import volts_beside
from tracecore.quantities import format_time

_FEWEST = 8
_FEW_SPANS, _MANY, _SPANS = 64, 1024, 4096
_LARGEST_RATIO = 300e-6
"""Crystals of instruments differ by less (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """One capture out of two, through ``channels`` of either. ``offset_ps`` is added to the scope's times at its first
    shared transition; ``uncertainty_ps`` is what that reads to; ``ratio_ppm`` how much longer the scope's seconds are;
    ``shared`` how many transitions pair, of which the furthest lies ``residual_ps`` apart."""

    capture: Capture
    channels: tuple[str, str]
    offset_ps: int
    uncertainty_ps: int
    ratio_ppm: float
    shared: int
    residual_ps: int
    every_ps: int = 0
    """Other offsets fit as well, so far apart; 0 where there is but one."""

    @property
    def sentence(self) -> str:
        """What was found, and what is not sure of it."""
        sure = (
            f"Joined through {self.channels[0]}: {self.shared} transitions pair, offset "
            f"{format_time(self.offset_ps, sign=True)} ±{format_time(self.uncertainty_ps)}, clocks "
            f"{self.ratio_ppm:+.1f} ppm apart."
        )
        if not self.every_ps:
            return sure
        every = format_time(self.every_ps, digits=3)
        return (
            f"{sure} It is too even to tell one place from another: every {every} fits too, and the "
            "offset nearest to a common time zero was taken. Cycles of violations in volts may be off by as "
            "much. Share a signal that moves unevenly, or begin both captures with one trigger."
        )


def find_join(logic: Capture, scope: Capture, named: Mapping[str, str]) -> Joined:
    """Joins them through the channel that both hold. ``named`` gives the signal of each channel: channels of one signal
    are tried first, then all others; one that fits in one place alone is taken before any that is too even.

    Raises RequestError where no channel of one moves as one of the other.
    """
    pairs = [(a, b) for a in logic.digital for b in scope.channels]
    pairs.sort(key=lambda pair: named.get(pair[0], pair[0]) != named.get(pair[1], pair[1]))
    as_logic = {b: _at_half(scope, b) for b in scope.channels}
    best: tuple[tuple[bool, bool, int], Joined] | None = None
    for a, b in pairs:
        try:
            found = join(logic, scope, (a, b), logic.digital[a], as_logic[b])
        except RequestError:
            continue
        alike = named.get(a, a) == named.get(b, b)
        rank = not found.every_ps, alike, found.shared
        if best is None or rank > best[0]:
            best = rank, found
        if rank[0] and rank[1]:
            break
    if best is None:
        raise RequestError(
            f"No channel of {scope.name} moves as one of {logic.name}: expected one signal in both captures, with at "
            f"least {_FEWEST} transitions. Capture the clock or a strobe with both instruments, triggered at once."
        )
    return best[1]


def join_through(logic: Capture, scope: Capture, channels: tuple[str, str]) -> Joined:
    """Joins them through these channels, as ``find_join`` found them. Raises RequestError as ``join`` does, and where a
    channel is not there."""
    for capture, channel in ((logic, channels[0]), (scope, channels[1])):
        if channel not in capture.channels:
            raise RequestError(f"{capture.name} has no channel {channel}, through which it was joined. Join it again.")
    return join(logic, scope, channels, logic.digital[channels[0]], _at_half(scope, channels[1]))


def _at_half(scope: Capture, channel: str) -> DigitalTrace:
    """A channel as logic by its own two levels, whatever family it is of."""
    if channel not in scope.analog:
        return scope.digital[channel]
    trace, ttl = scope.analog[channel], family("74")
    levels = state_levels(trace.volts, ttl.vil_v, ttl.vih_v)
    if levels.low_v is None or levels.high_v is None:
        return digitise(trace, ttl).digital
    low, high = (reference_level(levels.low_v, levels.high_v, percent) for percent in (45, 55))
    return digitise(trace, replace(ttl, vil_v=low, vih_v=high)).digital


def join(
    logic: Capture, scope: Capture, channels: tuple[str, str], logic_trace: DigitalTrace, scope_trace: DigitalTrace
) -> Joined:
    """Joins a logic and a scope capture of one run. ``channels`` name the shared signal in each; its traces are given
    as logic. The result is on the logic instrument's time and holds the shared signal once, as logic.

    Raises RequestError where the shared signal moves too little, or fits nowhere.
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
    # a level repeats at every second transition, so half of the places are out of the question
    first = int(np.flatnonzero(level == begins)[0]) if (level == begins).any() else 0
    places, thinned = _places(longer, shorter, slack, np.arange(first, len(longer) - len(shorter) + 1, 2))
    places = places[level[places] == begins]
    if not len(places):
        raise RequestError(
            f"{name} does not move alike in {logic.name} and {scope.name}, so they are not of one run, or not of the "
            "same stretch. Trigger both at once."
        )
    nearest = int(np.abs(longer[places] - shorter[0]).argmin())
    k = int(places[nearest])
    every = int(np.median(np.diff(longer[places]))) if len(places) > 1 else 0
    if not every:
        every = round(float((longer[2:] - longer[:-2]).mean())) if thinned else _repeats_every(shorter, slack)
    paired = longer[k : k + len(shorter)]
    on_logic, on_scope = (shorter, paired) if swapped else (paired, shorter)
    return _joined(logic, scope, channels, on_logic, on_scope, slack, every)


def _places(longer: Int64, shorter: Int64, slack: int, places: Int64) -> tuple[Int64, bool]:
    """Which of ``places`` in ``longer`` the spans of ``shorter`` fit, each to ``slack`` and the crystals' difference;
    and whether places were left out, since an even clock fits too many of them to look at each in full."""
    since = shorter - shorter[0]
    room = slack + (since * _LARGEST_RATIO).astype(np.int64)
    thinned = False
    # nearly every span tells; of very many some thousand, the first ones among them, tell as much
    count = len(shorter)
    steps = (
        range(1, count) if count <= _SPANS else np.unique(np.r_[1:64, np.linspace(64, count - 1, _SPANS)].astype(int))
    )
    for n, step in enumerate(int(step) for step in steps):
        # each further transition leaves fewer places; most go at the first few
        gap = longer[places + step] - longer[places] - since[step]
        places = places[np.abs(gap) <= room[step]]
        if not len(places):
            break
        if n >= _FEW_SPANS and len(places) > _MANY:
            nearest = np.argsort(np.abs(longer[places] - shorter[0]), kind="stable")[:_MANY]
            places, thinned = np.sort(places[nearest]), True
    return np.asarray(places, np.int64), thinned


def _repeats_every(times: Int64, slack: int) -> int:
    """After how long the transitions repeat, so that a part of them fits them as well; 0 where they do not."""
    for by in range(2, min(_FEW_SPANS, len(times) // 2) + 1, 2):
        late, early = times[by:] - times[by], times[:-by] - times[0]
        if (np.abs(late - early) <= slack + early * _LARGEST_RATIO).all():
            return round(float((times[by:] - times[:-by]).mean()))
    return 0


def _joined(
    logic: Capture, scope: Capture, channels: tuple[str, str], on_logic: Int64, on_scope: Int64, slack: int, every: int
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
        # the pin that both clips sit on keeps its logic, which may be the longer, and its volts beside that
        name = channels[0] if channel == channels[1] else channel
        name = volts_beside(name) if name in logic.digital else name
        start = first + round(at_first) + round((trace.start_ps - first) * ratio)
        analog[name] = AnalogTrace(start, trace.interval_ps * ratio, trace.volts)
    both = Capture(
        f"{logic.name} with {scope.name}",
        logic.digital,
        {**analog, **logic.analog},
        max(logic.resolution_ps, 1),
        logic.reader,
        logic.path,
        logic.sha256,
        logic.facts,
        (*logic.notes, *scope.notes),
        (*logic.parts, scope.path),
        logic.joined_by,
    )
    reads_to = slack / 2 / np.sqrt(len(on_logic)) * 2 + float(np.abs(np.median(residual)))
    found = Joined(
        both,
        channels,
        round(at_first),
        max(1, round(reads_to)),
        slope * 1e6,
        len(on_logic),
        int(np.abs(residual).max()),
        every,
    )
    return found if not every else replace(found, capture=replace(both, notes=(*both.notes, found.sentence)))
