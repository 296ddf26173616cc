"""What a chip does as JSON; a level that is not known is null.

One object. Fields may be added under the same version, none is renamed or changes its meaning:

- ``format`` "twinslot part", ``version`` 1; ``suspect`` and ``good`` (null without ``--good``): verdict, ``doubts``,
  counts of judged and wrong states, each of the ``outputs``, the ``input_states`` with what should be, what is and
  how often, and ``explanations``, each of which alone makes every judged state right
- ``pin_by_pin``: with ``--good``, each leg on both boards, worst first: transitions, share of time at high, verdict
- ``replacements``: numbers that may take its place by the table, with donors from the stock list
"""

from __future__ import annotations

import json
from typing import Any

from app.report.part_words import explanation_words
from tracecore.circuit.parts.clip_pair import LegPair
from tracecore.circuit.parts.obedience import Obedience, SeenGroup
from tracecore.circuit.parts.replacements import Replacement


def part_record(found: Obedience) -> dict[str, Any]:
    """One side as plain values."""
    return {
        "number": found.number,
        "part": found.part.number,
        "verdict": found.verdict,
        "doubts": found.doubts,
        "judged_states": found.judged,
        "wrong_states": found.wrong,
        "doubtful_states": found.doubtful,
        "seen_input_states": found.seen,
        "possible_input_states": found.possible,
        "first_wrong_ps": found.first_wrong_ps,
        "settle_ps": found.times.settle_ps,
        "settle_of": found.times.settle_of or None,
        "source": found.times.source or None,
        "sample_ps": found.resolution_ps,
        "not_captured": found.not_captured,
        "inputs_not_shown": found.unshown,
        "outputs": [
            {
                "leg": c.leg,
                "name": c.name,
                "judged": c.judged,
                "wrong_high": c.wrong_high,
                "wrong_low": c.wrong_low,
                "should_high": c.should_high,
                "should_low": c.should_low,
                "doubtful": c.doubtful,
                "let_go_low": c.let_go_low,
                "first_wrong_ps": c.first_wrong_ps,
            }
            for c in found.outputs
        ],
        "input_states": [_group(group) for group in found.groups],
        "explanations": [
            {
                "kind": e.kind,
                "legs": e.legs,
                "names": e.names,
                "level": e.level,
                "late_ps": e.late_ps,
                "number": e.number or None,
                "sentence": explanation_words(e),
            }
            for e in found.explanations
        ],
    }


def part_json(
    suspect: Obedience,
    good: Obedience | None = None,
    may_replace: tuple[Replacement, ...] = (),
    pairs: tuple[LegPair, ...] = (),
) -> str:
    """The answer as JSON with a line feed at its end; ``good`` and the ``pairs`` of legs where the good board's chip
    was captured too."""
    record = {
        "format": "twinslot part",
        "version": 1,
        "suspect": part_record(suspect),
        "good": None if good is None else part_record(good),
        "pin_by_pin": [
            {
                "leg": p.leg,
                "name": p.name,
                "verdict": p.verdict,
                "good_transitions": p.good_moves,
                "suspect_transitions": p.suspect_moves,
                "good_high_share": p.good_high,
                "suspect_high_share": p.suspect_high,
            }
            for p in pairs
        ],
        "replacements": [
            {
                "number": r.number,
                "family": r.family or None,
                "settle_ps": r.settle_ps,
                "loads": r.loads,
                "open_collector": r.open_collector or None,
                "donors": [
                    {"board": d.board, "position": d.position, "date_code": d.date_code or None} for d in r.donors
                ],
            }
            for r in may_replace
        ],
    }
    return json.dumps(record, indent=1, ensure_ascii=False) + "\n"


def _group(group: SeenGroup) -> dict[str, Any]:
    return {
        "inputs": group.inputs,
        "outputs": group.outputs,
        "possible": group.possible,
        "states": [
            {
                "inputs": _levels(s.inputs),
                "should": _levels(s.should),
                "does": _levels(s.does),
                "times": s.times,
                "wrong": s.wrong,
                "first_ps": s.first_ps,
            }
            for s in group.states
        ],
    }


def _levels(levels: tuple[int, ...]) -> list[int | None]:
    return [None if level > 1 else level for level in levels]
