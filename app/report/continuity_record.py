"""A comparison of ohm readings as JSON and as CSV. A value that is not known is null, an open one is "open".

The JSON is one object. Fields may be added under the same version, none is renamed or changes its meaning:

- ``format`` "twinslot continuity", ``version`` 1; ``joins_ohms`` and ``raised_from_ohms`` are the limits used
- ``differs``, and ``counts`` of pairs by verdict: open, extra, raised, lower, varies, to measure, same
- ``pairs``, worst first: ``from``, ``to``, ``net``, ``verdict``, ohms of both sides with the leads taken off,
  ``raised_ohms``, and the readings behind them
- ``split``: nets of good that are in parts on suspect, with ``by``, the readings that part them; ``joined``: nets of
  good that are one on suspect, likewise
- ``conflicts``: readings of one side of which one is wrong; ``again`` is to be read first
- ``next``: the reading that tells most now, ``located``: where the readings put the fault; null without ``--net``

The CSV has a row a pair with ``COLUMNS``.
"""

from __future__ import annotations

import json
import math
from typing import Any

from app.report.continuity_words import verdict_words
from tracecore.circuit.continuity.comparison import VERDICTS, ContinuityComparison, Pair
from tracecore.circuit.continuity.path import Located, NextReading
from tracecore.circuit.continuity.readings import Reading, ohms_text
from tracecore.csv_cells import csv_text

COLUMNS = ("from", "to", "net", "good_ohms", "suspect_ohms", "verdict", "raised_ohms", "read_on", "by", "note")


def continuity_json(
    found: ContinuityComparison,
    nets: dict[str, str],
    step: NextReading | None = None,
    place: Located | None = None,
) -> str:
    """The comparison as JSON with a line feed at its end. ``nets`` names the net of a pin where a list knows it."""
    record: dict[str, Any] = {
        "format": "twinslot continuity",
        "version": 1,
        "joins_ohms": found.joins_ohms,
        "raised_from_ohms": found.raised_ohms,
        "differs": found.differs,
        "counts": {verdict: found.count(verdict) for verdict in VERDICTS},
        "pairs": [_pair(pair, nets) for pair in found.pairs],
        "split": [
            {"pins": net.pins, "parts": net.parts, "by": [_reading(r) for r in net.by]} for net in found.split
        ],
        "joined": [{"nets": n.nets, "by": [_reading(r) for r in n.by]} for n in found.joined],
        "conflicts": [
            {
                "apart": _reading(c.apart),
                "through": [_reading(r) for r in c.through],
                "again": _reading(c.again),
            }
            for c in found.conflicts
        ],
        "next": None
        if step is None
        else {"from": step.start, "to": step.end, "kind": step.kind, "good_ohms": _ohms(step.good_ohms),
              "at_most": step.at_most},
        "located": None if place is None else {"place": place.place, "slot": place.slot, "between": place.between},
    }  # fmt: skip
    return json.dumps(record, indent=1, ensure_ascii=False) + "\n"


def continuity_csv(found: ContinuityComparison, nets: dict[str, str]) -> str:
    """A row for each pair, worst first."""
    return csv_text(COLUMNS, (_cells(pair, nets) for pair in found.pairs))


def _cells(pair: Pair, nets: dict[str, str]) -> tuple[str, ...]:
    last = pair.readings[-1]
    more = "" if pair.raised_ohms is None else f"{pair.raised_ohms:.12g}"
    return (
        pair.start, pair.end, nets.get(pair.start, ""), _rounded(pair.good_ohms), _rounded(pair.suspect_ohms),
        verdict_words(pair), more, last.read_on, last.by, last.note,
    )  # fmt: skip


def _rounded(ohms: float | None) -> str:
    """Leads taken off leave digits that no meter showed."""
    return ohms_text(ohms if ohms is None or math.isinf(ohms) else float(f"{ohms:.12g}"))


def _pair(pair: Pair, nets: dict[str, str]) -> dict[str, Any]:
    return {
        "from": pair.start,
        "to": pair.end,
        "net": nets.get(pair.start),
        "verdict": pair.verdict,
        "good_ohms": _ohms(pair.good_ohms),
        "suspect_ohms": _ohms(pair.suspect_ohms),
        "raised_ohms": pair.raised_ohms,
        "card_in": pair.card_in,
        "follows_on": pair.over,
    }


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "from": reading.start,
        "to": reading.end,
        "ohms": _ohms(reading.ohms),
        "side": reading.side,
        "line": reading.line or None,
    }


def _ohms(ohms: float | None) -> float | str | None:
    return "open" if ohms is not None and math.isinf(ohms) else ohms
