"""What differs only behind a stretch in which both sides do different things is told as a possible consequence."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from demo_traces.linnet import SIGNALS, machine_words
from tests.lineup.slipping import slipping_pair
from tests.plant import CLOCK, Plant
from tracecore.comparison import CompareRequest, compare


def test_what_differs_only_behind_a_diverged_stretch_is_told_so_and_stands_last():
    rows = {name: SIGNALS.index(name) for name in ("D01", "SEQ1")}

    def fault(levels: np.ndarray) -> np.ndarray:
        out = levels.copy()
        out[rows["D01"], 700:] = 0
        kept = out[rows["SEQ1"]].copy()
        out[:, 1000:1400] = machine_words(99, 0, 400)
        out[rows["SEQ1"]] = kept
        out[rows["SEQ1"], 1900:] = 1
        return out

    plant = Plant(3, cycles=2600, good_rate_hz=Fraction(10**8), suspect_rate_hz=Fraction(10**8))
    pair = slipping_pair(plant, {}, {}, fault)
    found = compare(CompareRequest((pair.good.capture(),), (pair.suspect.capture(),), pair.sheet, clock=CLOCK))
    assert {slip.kind for slip in found.lineup.slips} == {"diverged"}
    assert found.causes[0].signal == "D01"
    late = {c.signal: any("do different things" in b for b in c.because) for c in found.causes}
    first = {s.signal: s.first_divergence.cycle for s in found.signals if s.first_divergence}
    assert late == {name: first[name] >= found.lineup.parts_at for name in late}
    assert not late["D01"]
    ranks = [late[c.signal] for c in found.causes]
    assert ranks == sorted(ranks)
    assert late["SEQ1"]
    # the first cycles of the stretch stay paired: what the other program changes first is seen there
    assert sum(late.values()) < len(late) - 2
