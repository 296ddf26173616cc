"""Faults at one pin of the suspect in ``tests/sound_pairs.py``: what the wires do less what a sound board does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.sound_pairs import Moves

KINDS = ("glitches", "late", "late now and then", "missing pulses", "stuck", "one cycle late")


@dataclass(frozen=True, slots=True)
class PinFault:
    """``kind`` of ``KINDS`` on ``net``, with a draw of its own. ``count`` is how many glitches there are, or how many
    transitions are late now and then; ``by_ps`` how wide a glitch is, or by how much a transition is late."""

    kind: str
    net: str
    seed: int
    count: int = 0
    by_ps: float = 0.0

    def __call__(self, nets: dict[str, Moves], period: float) -> dict[str, Moves]:
        """What the pins do; ``period`` is that of the clock in ps."""
        rng = np.random.default_rng([78, self.seed])
        make: dict[str, Callable[[Moves, float, np.random.Generator], Moves]] = {
            "glitches": self._glitches,
            "late": self._late,
            "late now and then": self._late,
            "missing pulses": self._missing,
            "stuck": self._stuck,
            "one cycle late": lambda own, cycle, rng: [(at + cycle, level) for at, level in own],
        }
        return {**nets, self.net: make[self.kind](nets[self.net], period, rng)}

    def _glitches(self, own: Moves, period: float, rng: np.random.Generator) -> Moves:
        """Pulses at any moment of cycles that are drawn, where the net has long been still and stays so."""
        at = np.array([time for time, _ in own])
        levels = [level for _, level in own]
        cycles = max(1, int(at[-1] // period)) if len(at) else 1
        out, made = list(own), 0
        for cycle in rng.permutation(cycles).tolist():
            begin = (cycle + float(rng.uniform(0, 1))) * period
            k = int(at.searchsorted(begin))
            still_before = k == 0 or begin - at[k - 1] > 2 * self.by_ps + 20_000
            still_behind = k == len(at) or at[k] - begin > 3 * self.by_ps + 20_000
            if made < self.count and still_before and still_behind:
                held = levels[k - 1] if k else 0
                out += [(begin, 1 - held), (begin + self.by_ps, held)]
                made += 1
        return sorted(out)

    def _late(self, own: Moves, period: float, rng: np.random.Generator) -> Moves:
        chosen = set(range(len(own)))
        if self.kind != "late":
            chosen = set(rng.permutation(len(own))[: self.count].tolist())
        moved = [(at + self.by_ps * (i in chosen), level) for i, (at, level) in enumerate(own)]
        out: Moves = []
        for i, (at, level) in enumerate(moved):
            # a transition that comes behind the next one takes that with it
            if i + 1 < len(moved) and moved[i + 1][0] <= at:
                continue
            if level != (out[-1][1] if out else 0):
                out.append((at, level))
        return out

    def _missing(self, own: Moves, period: float, rng: np.random.Generator) -> Moves:
        """Some pulses of half a cycle and longer are not there."""
        wide = [i for i in range(len(own) - 1) if own[i + 1][0] - own[i][0] >= period / 2]
        gone: set[int] = set()
        for i in rng.permutation(wide)[: self.count].tolist():
            if not {i, i + 1} & gone:
                gone |= {i, i + 1}
        return [move for i, move in enumerate(own) if i not in gone]

    def _stuck(self, own: Moves, period: float, rng: np.random.Generator) -> Moves:
        return own[: int(rng.integers(0, max(1, len(own) // 2)))]


def drawn_fault(seed: int, kind: str, sample_ps: float, period: float) -> PinFault:
    """A fault of a kind on a net that is drawn, of a size that is drawn about ``sample_ps``, one sample period."""
    rng = np.random.default_rng([79, seed])
    net = f"N{int(rng.integers(0, 24)):02d}"
    count = int(np.exp(rng.uniform(0, np.log(120))))
    if kind == "glitches":
        return PinFault(kind, net, seed, count, float(np.exp(rng.uniform(np.log(3_000), np.log(sample_ps + 10_000)))))
    return PinFault(kind, net, seed, count, float(rng.uniform(0.5, 5)) * sample_ps + 10_000)
