"""How often the planted fault is named first, and among the first three, over seeded faults of eight kinds.

    .venv/bin/python -m tests.benchmarks.bench_ranking [FAULTS_OF_EACH_KIND] [CYCLES] [FIRST_DRAW]

Whole comparisons of captures of 38 nets at 100 MS/s from reset, in shuffled order; see ``tests.netlist`` for what the
boards are. The offset is given as 0, as both captures start with the reset: this measures the ranking apart from the
line-up, which finds no offset by itself on some of these boards (nothing is ranked there). Faults that show no
divergence are left out and counted. For an open input the net with the wrong levels is the output of the part with the
open pin; that is what counts as right. The strict lines count an open input only where the first cause tells the pin
itself as the place ("input open at U7 (pin of N21)"): with no other pin beside it, or as one of several; where the
output stands still the output itself is told beside it, as captures cannot tell the two apart. Draws start at 7000:
the rules were tried on those below 2000. Intervals are Wilson's, 95 % (E. B. Wilson, 1927).
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass

from tests.netlist import CLOCK, KINDS, Case, make_case
from tracecore.circuit.wire_list import WireList
from tracecore.comparison import CompareRequest, compare

FIRST_DRAW = 7000


@dataclass(slots=True)
class Score:
    """Counts over one kind of fault."""

    faults: int = 0
    first: int = 0
    three: int = 0
    pin: int = 0
    strict: int = 0
    among: int = 0


def judge(case: Case, wires: WireList | None, score: Score) -> bool:
    """Compares and counts; False where nothing diverges."""
    comparison = compare(CompareRequest((case.good,), (case.suspect,), clock=CLOCK, offset=0, wire_list=wires))
    causes = comparison.causes
    if not causes:
        return False
    score.faults += 1
    score.first += causes[0].signal in case.truth
    score.three += any(c.signal in case.truth for c in causes[:3])
    pins = told_pins(causes[0].summary)
    hit = causes[0].signal in case.truth
    score.strict += hit and (not case.open_net or pins == [case.open_net])
    score.among += hit and (not case.open_net or case.open_net in pins)
    score.pin += bool(case.open_net) and hit and case.open_net in pins
    return True


def told_pins(summary: str) -> list[str]:
    """The nets whose pins a summary tells as maybe open.

    >>> told_pins("from cycle 3 · maybe input open at U1 (pin of A or B) or its output held")
    ['A', 'B']
    """
    told = re.search(r"\(pin of ([^)]*)\)", summary)
    return told[1].split(" or ") if told else []


def scores(kind: str, faults: int, cycles: int, first: int = FIRST_DRAW) -> tuple[Score, Score, int]:
    """Without and with the wire list, and how many drawn faults showed nothing."""
    plain, listed, silent, number = Score(), Score(), 0, first
    while plain.faults < faults and number < first + 6 * faults:
        case = make_case(kind, number, cycles)
        number += 1
        if case is None:
            continue
        if not judge(case, None, plain):
            silent += 1
            continue
        judge(case, case.wires, listed)
    return plain, listed, silent


def main(faults: int, cycles: int, first: int) -> None:
    """Prints the table."""
    print(f"{faults} faults of each kind, {cycles} cycles, draws from {first}; named first / among the first three")
    totals = Score(), Score()
    for kind in KINDS:
        *both, silent = scores(kind, faults, cycles, first)
        for total, score in zip(totals, both, strict=True):
            for name in ("faults", "first", "three", "pin", "strict", "among"):
                setattr(total, name, getattr(total, name) + getattr(score, name))
        print(_line(kind, *both) + f"   {silent} without effect", flush=True)
    print(_line("all", *totals))
    titles = {
        "first": "first",
        "three": "among the first three",
        "strict": "first, an open input by its pin alone",
        "among": "first, an open input by its pin among others",
    }
    for name, title in titles.items():
        shares = "; with list ".join(_share(getattr(s, name), s.faults) for s in totals)
        print(f"{title}: without list {shares}")


def _share(hits: int, of: int) -> str:
    """A share and its interval."""
    low, high = wilson(hits, of)
    return f"{hits / max(1, of):.3f} ({low:.3f} to {high:.3f})"


def wilson(hits: int, of: int, z: float = 1.959964) -> tuple[float, float]:
    """The interval of a share.

    >>> wilson(0, 0)
    (0.0, 1.0)
    """
    if not of:
        return 0.0, 1.0
    middle, half = hits + z * z / 2, z * (hits * (of - hits) / of + z * z / 4) ** 0.5
    return (middle - half) / (of + z * z), (middle + half) / (of + z * z)


def _line(name: str, plain: Score, listed: Score) -> str:
    cells = [f"{name:16s} n={plain.faults:3d}"]
    for title, s in (("without", plain), ("with list", listed)):
        n = max(1, s.faults)
        cells.append(f"{title} {s.first / n:.3f} / {s.three / n:.3f}")
    if listed.pin:
        cells.append(f"pin said {listed.pin}")
    return "   ".join(cells)


if __name__ == "__main__":
    main(*(int(a) for a in (sys.argv[1:] + ["50", "600", str(FIRST_DRAW)][len(sys.argv) - 1 :])))
