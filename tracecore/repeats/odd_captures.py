"""Each known-good capture judged by the others: one that stands alone may be no good one, and teaches nothing.

Where three captures or more reach a cycle and one differs from all others, it stands alone there. Sound captures do so
each about as often. One that does so far more often than chance would have it, or that is the only one to vary on a
signal, is odd: were it believed, the fault that it shows would be let off in the suspect.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tracecore.measure.chance import RARE, chance_bound, episodes
from tracecore.name_lists import few_names
from tracecore.repeats.context import Cycles

_TIMES_AS_OFTEN = 3
_SELDOM = 0.05


@dataclass(frozen=True, slots=True)
class OddCapture:
    """A known-good capture, ``number`` in order of teaching, the reference being 0, that stands alone on ``signals``
    in ``places`` (stretches of cycles). ``whole``: so often that nothing it shows is believed; else these signals are
    not. ``of_two``: there are only two, so that either may be the odd one."""

    number: int
    name: str
    signals: tuple[str, ...]
    places: int
    whole: bool
    of_two: str = ""

    @property
    def code(self) -> str:
        """Of which kind the notice of it is."""
        if self.of_two:
            return "good_captures_disagree"
        return "good_capture_odd" if self.number else "reference_odd"

    @property
    def sentence(self) -> str:
        """As it is printed, without what to do."""
        where = f"on {few_names(self.signals, 4)}, in {self.places} place{'' if self.places == 1 else 's'}"
        if self.of_two:
            return (
                f"{self.of_two} and {self.name}, the only known-good captures to judge by, differ from one another "
                f"{where}. Which of them is right cannot be told, so neither teaches."
            )
        if not self.number:
            return f"{self.name}, which all is compared with, differs from all other known-good captures {where}."
        what = "it teaches nothing" if self.whole else "of these signals it teaches nothing"
        return f"{self.name} differs from all other known-good captures {where}: {what}."


def odd_captures(
    names: Sequence[str], alone: Mapping[str, Sequence[Cycles]], shared: Mapping[str, bool]
) -> tuple[OddCapture, ...]:
    """The odd ones of three captures or more. ``alone`` has for each signal that varies the cycles [N], sorted,
    in which each capture stands alone; ``shared`` says of each whether several captures vary there together."""
    count = len(names)
    places = {s: [len(episodes(cycles)) for cycles in own] for s, own in alone.items()}
    tests = count * max(1, len(places))
    wholly: dict[int, list[str]] = {}
    partly: dict[int, list[str]] = {}
    for signal, own in places.items():
        total, most = sum(own), max(own)
        if not total:
            continue
        at, rest = own.index(most), total - most
        rare = float(chance_bound(most, total, 1 / count)) * tests < RARE
        if rare and most > _TIMES_AS_OFTEN * rest / (count - 1):
            wholly.setdefault(at, []).append(signal)
        elif not rest and not shared[signal]:
            partly.setdefault(at, []).append(signal)
    out = []
    for at in sorted({*wholly, *partly}):
        signals = (*wholly.get(at, ()), *partly.get(at, ()))
        out.append(OddCapture(at, names[at], signals, sum(places[s][at] for s in signals), at in wholly))
    return tuple(out)


def less_floating(
    odd: Sequence[OddCapture], alone: Mapping[str, Sequence[Cycles]], floats: NDArray[np.bool_], share: float
) -> tuple[OddCapture, ...]:
    """The odd ones without the signals on which a capture is the only one to vary, but only in cycles in which other
    signals float: a bit of a bus that seldom reads otherwise.

    ``alone`` is as above, of those signals at least; ``floats`` bool[K] says it of each cycle, and ``share`` of how
    many. Chance puts n places there with the n-th power of the share; where that is less than one in twenty, they have
    to do with it. A single place hardly ever shows it.
    """
    out = []
    for own in odd:
        left = [s for s in own.signals if own.whole or not _floats_there(alone[s][own.number], floats, share)]
        if left:
            places = own.places if own.whole else sum(len(episodes(alone[s][own.number])) for s in left)
            out.append(replace(own, signals=tuple(left), places=places))
    return tuple(out)


def _floats_there(cycles: Cycles, floats: NDArray[np.bool_], share: float) -> bool:
    return bool(floats[cycles].all()) and share ** len(episodes(cycles)) < _SELDOM


def stand_in(odd: Sequence[OddCapture], count: int) -> int | None:
    """The number of the first of ``count`` good captures that is not odd, to be compared with in place of a reference
    that is; None where the reference is sound, where there are only two, or where all are odd."""
    gone = {own.number for own in odd}
    if 0 not in gone or any(own.of_two for own in odd):
        return None
    return next((number for number in range(1, count) if number not in gone), None)


def replaced_sentence(name: str, odd: OddCapture) -> str:
    """That the capture ``name`` is compared with in place of a reference that is odd."""
    return (
        f"{name} is compared with in place of {odd.name}, which differs from all other known-good captures on "
        f"{few_names(odd.signals, 4)}."
    )


def with_known(odd: Sequence[OddCapture], known: OddCapture | None) -> tuple[OddCapture, ...]:
    """The odd captures and one that is known to be odd already, as it showed against another reference: once it was
    told, none of that is learnt any more."""
    if known is None:
        return tuple(odd)
    same = next((own for own in odd if own.number == known.number), None)
    if same is not None:
        signals = (*same.signals, *(s for s in known.signals if s not in same.signals))
        known = replace(same, signals=signals, places=max(same.places, known.places), whole=same.whole or known.whole)
    return (*(own for own in odd if own is not same), known)


def believed(
    differ: Sequence[tuple[int, Mapping[str, float]]], odd: Sequence[OddCapture]
) -> tuple[Mapping[str, float], ...]:
    """The signals on which each capture, by its number, differs from the reference, and how often, without what is odd
    of them; a capture that is odd as a whole is left out."""
    gone = {own.number for own in odd if own.whole}
    not_of = {own.number: frozenset(own.signals) for own in odd}
    return tuple(
        {signal: share for signal, share in wrong.items() if signal not in not_of.get(number, ())}
        for number, wrong in differ
        if number not in gone
    )
