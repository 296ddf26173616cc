"""A comparison as JSON, schema ``twinslot.comparison/1``; app/help/command_line.md sums it up.

The same comparison gives the same bytes. Fields may be added under the same schema name, but none is renamed, removed
or given another meaning. Times are whole picoseconds on the named side's own clock; a cycle counts the good
capture's active edges from 0; "or null" is said wherever a field may be null.

- ``outcome`` (agrees, diverges, cannot tell), ``outcome_reason`` (a stable word), ``outcome_text`` and ``outcome_do``
  (why, and what to do next).
- ``coverage``: ``good`` and ``suspect``, each in cycles: ``total``, ``before``, ``matched``, ``slipped`` (missing or
  inserted), ``diverged``, ``unsure``, ``after``, ``left_out``, which add up to ``total``; and ``head_samples`` and
  ``tail_samples``, which lie before the first and behind the last matched cycle.
- ``good``, ``suspect``: names of the captures, the compared pair first.
- ``lineup``: ``status`` (unique, by hand, none, or what makes it doubtful), ``reason`` (sentences), ``clock``,
  ``edge`` (rising, falling), ``offset_cycles`` (suspect cycle = good cycle + offset; null where
  no line-up was found), ``confidence`` 0 to 1, ``runner_up`` (``offset_cycles``, ``agreement`` 0 to 1 and
  ``overlap_cycles`` of the next best offset, or null), ``compared_cycles``, ``drift_ppm`` (how much longer the
  suspect's cycle is, or null), ``slips`` in order: ``kind``
  (inserted, missing, diverged), ``good_cycle``, ``suspect_cycle``, ``inserted`` and ``missing`` (cycles on one side),
  ``left_out`` (``condition`` or null, ``good_cycles``, ``suspect_cycles``: counts; offsets do not count these),
  ``good_slips`` (how many slips each further known-good capture shows).
- ``clocks``, null where no single signal counts the cycles: ``signal``; ``good`` and ``suspect``, each with ``edges``
  (real active ones), ``period_ps``, ``even`` (share of cycles that fit it), ``jitter_ps``, ``wander`` (share of the
  period), ``high_share`` or null, counts of ``double_edges``, ``extra_pulses``, ``missing_pulses`` and ``pauses``,
  ``stops_ps`` or null; ``faults`` of the suspect's, the likeliest first: ``fault_mode``, ``fault_kind``, ``because``,
  ``places`` (a count; 0 where it is so throughout), ``at_ps`` (the first hundred, on the suspect's own clock);
  ``moved_ps`` (by how much its edges were moved for counting), ``ticks_instead`` (another signal of the suspect that
  ticks in its place) or null.
- ``signals``, the clock first, then in the sheet's order: ``signal``, ``slot``, ``pin`` (empty where not on the sheet),
  ``verdict`` (agrees, diverges, undecided, missing), ``fault_mode`` in words or null, ``fault_kind`` as
  a fixed word (stuck_low, late, follows, ...) or null, ``first_divergence`` (``cycle``,
  ``good_ps``, ``suspect_ps``) or null, ``diverging_cycles`` (a count), ``compared_cycles``, ``skew_ps`` (``median``,
  ``p95``, ``max``, ``uncertainty``; suspect minus good, positive is late) or null, ``missing_transitions``,
  ``extra_transitions``, ``levels``, ``margins`` or null without volts (``good`` and ``suspect``, each null or
  ``low_v``, ``high_v``, ``low_margin_v``, ``high_margin_v``, each or null; ``promised_low_v``, ``promised_high_v``,
  ``reads_to_v``; and ``verdict``), ``limits`` or null where no part is named that takes it in (``part``, ``source``,
  and ``readings``: ``side``, ``what``, ``smallest_ps``, ``needs_ps``, ``reads_to_ps``, ``verdict``, ``breaking``,
  ``cycle`` or null).
- ``levels``: ``kind`` (weak low, weak high, runt, undefined, slow transition), ``side`` (good, suspect), ``start_ps``,
  ``stop_ps``, ``volts``, ``limit_v``, ``cycle`` or null outside the line-up.
- ``causes``, best supported first: ``rank`` from 1, ``signal``, ``fault_mode``, ``fault_kind``, ``because``
  (sentences), ``probe_next``, ``caution``; ``chip`` where the fault lies in one that does not obey its inputs, else
  null: ``name``, ``number``, ``fault`` (in words), ``legs``, ``outputs`` (signals that it gets wrong).
- ``captures``, each suspect capture, the compared one first: ``name``, ``outcome`` (agrees, diverges, cannot tell)
  and ``reason`` (why it cannot be told, else empty), ``compared`` (false where it cannot be told), ``diverges``
  (signals that differ in it).
- ``repeats``: over all suspect captures that lined up, ``captures`` (how many), ``diverging``, ``uncounted``,
  ``sentences``, and ``signals``, each that diverges anywhere: ``diverging`` of ``captures`` that judge it, ``low`` and
  ``high`` (95 % interval of that share, 0 to 1), ``first`` (in how many it is first; 1/n where n cannot be told apart).
- ``varies``: sentences on what varies among the known-good captures and is let off.
- ``notices``, the gravest first: ``code`` (a stable word, see the guide), ``severity`` (doubt, look, info), ``text``,
  ``do`` (what to do about it, may be empty), ``signals``. ``warnings``: the same as sentences.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from app.comparison_text import repeats_sentences, varies_sentences
from app.report.cautions import AT_THE_PINS
from app.report.clocks_record import clocks_record

if TYPE_CHECKING:
    from tracecore.compare.findings import FaultyChip, LevelViolation, SignalFinding
    from tracecore.compare.timing_limits import LimitsKept
    from tracecore.comparison import Comparison
    from tracecore.lineup.lineup import Lineup
    from tracecore.measure.level_figures import LevelFigures
    from tracecore.repeats.table import RepeatTable

SCHEMA = "twinslot.comparison/1"


def comparison_json(comparison: Comparison) -> str:
    """The JSON text of a comparison, ASCII only, ended by a line feed."""
    return json.dumps(comparison_record(comparison), indent=2, allow_nan=False) + "\n"


def comparison_record(comparison: Comparison) -> dict[str, Any]:
    """The record that the JSON text holds: plain dictionaries, lists, strings, whole numbers and floats."""
    outcome = comparison.outcome
    return {
        "schema": SCHEMA,
        "outcome": outcome.word,
        "outcome_reason": outcome.reason.value,
        "outcome_text": outcome.text,
        "outcome_do": outcome.do,
        "good": [capture.name for capture in comparison.request.good],
        "suspect": [capture.name for capture in comparison.request.suspect],
        "lineup": _lineup(comparison.lineup, comparison.request.qualifier)
        | {"good_slips": [int(count) for count in comparison.good_slips]},
        "coverage": _coverage(comparison.lineup),
        "clocks": clocks_record(comparison.clocks),
        "signals": [_signal(finding) | _measured(comparison, finding) for finding in comparison.signals],
        "causes": [
            {
                "rank": cause.rank,
                "signal": cause.signal,
                "fault_mode": cause.fault_mode,
                "fault_kind": None if cause.fault_kind is None else cause.fault_kind.word,
                "chip": None if cause.chip is None else _chip(cause.chip),
                "because": list(cause.because),
                "probe_next": cause.probe_next,
                "caution": AT_THE_PINS,
            }
            for cause in comparison.causes
        ],
        "captures": [
            {
                "name": seen.name,
                "outcome": seen.word,
                "reason": seen.reason,
                "compared": seen.counts,
                "diverges": sorted(seen.diverges),
            }
            for seen in comparison.captures
        ],
        "repeats": _repeats(comparison.repeats),
        "varies": list(varies_sentences(comparison.tolerance)),
        "notices": [
            {
                "code": own.code,
                "severity": own.severity,
                "text": own.text,
                "do": own.do,
                "signals": list(own.signals),
            }
            for own in comparison.notices
        ],
        "warnings": [own.sentence for own in comparison.notices],
    }


def _chip(chip: FaultyChip) -> dict[str, Any]:
    return {
        "name": chip.name,
        "number": chip.number,
        "fault": chip.fault,
        "legs": list(chip.legs),
        "outputs": list(chip.outputs),
    }


def _repeats(table: RepeatTable) -> dict[str, Any]:
    return {
        "captures": table.captures,
        "diverging": table.diverging,
        "uncounted": table.uncounted,
        "sentences": list(repeats_sentences(table)),
        "signals": [
            {
                "signal": row.signal,
                "diverging": row.share.diverging,
                "captures": row.share.captures,
                "low": round(row.share.low, 6),
                "high": round(row.share.high, 6),
                "first": round(row.first_credit, 6),
            }
            for row in table.rows()
            if row.share.diverging
        ],
    }


def _lineup(lineup: Lineup, qualifier: str | None) -> dict[str, Any]:
    rival = next((c for c in lineup.candidates if c.offset_cycles != lineup.offset_cycles), None)
    return {
        "status": lineup.status,
        "reason": lineup.reason,
        "clock": lineup.clock,
        "edge": lineup.edge,
        "offset_cycles": int(lineup.offset_cycles) if lineup else None,
        "confidence": round(float(lineup.confidence), 6),
        "runner_up": None
        if rival is None
        else {
            "offset_cycles": int(rival.offset_cycles),
            "agreement": round(float(rival.agreement), 6),
            "overlap_cycles": int(rival.overlap_cycles),
        },
        "compared_cycles": int(sum(run.length for run in lineup.runs)),
        "drift_ppm": None if lineup.drift_ppm is None else round(float(lineup.drift_ppm), 3),
        "slips": [
            {
                "kind": slip.kind,
                "good_cycle": int(slip.good_cycle),
                "suspect_cycle": int(slip.suspect_cycle),
                "inserted": int(slip.inserted),
                "missing": int(slip.missing),
            }
            for slip in lineup.slips
        ],
        "left_out": {
            "condition": (qualifier or "").strip() or None,
            "good_cycles": int(lineup.left_out[0]),
            "suspect_cycles": int(lineup.left_out[1]),
        },
    }


def _coverage(lineup: Lineup) -> dict[str, Any]:
    sides = {}
    for name, side in zip(("good", "suspect"), lineup.coverage, strict=True):
        counts = ("total", "before", "matched", "slipped", "diverged", "unsure", "after", "left_out")
        sides[name] = {count: int(getattr(side, count)) for count in counts} | {
            "head_samples": int(side.samples(side.head.whole_ps)),
            "tail_samples": int(side.samples(side.tail.whole_ps)),
        }
    return sides


def _signal(s: SignalFinding) -> dict[str, Any]:
    first, skew = s.first_divergence, s.skew
    return {
        "signal": s.signal,
        "slot": s.slot,
        "pin": s.pin,
        "verdict": s.verdict,
        "fault_mode": s.fault_mode,
        "fault_kind": None if s.fault_kind is None else s.fault_kind.word,
        "first_divergence": None
        if first is None
        else {"cycle": int(first.cycle), "good_ps": int(first.good_ps), "suspect_ps": int(first.suspect_ps)},
        "diverging_cycles": len(s.diverging_cycles),
        "compared_cycles": int(s.compared_cycles),
        "skew_ps": None
        if skew is None
        else {
            "median": int(skew.median_ps),
            "p95": int(skew.p95_ps),
            "max": int(skew.max_ps),
            "uncertainty": int(skew.uncertainty_ps),
        },
        "missing_transitions": int(s.missing_transitions),
        "extra_transitions": int(s.extra_transitions),
        "levels": [_level(row) for row in s.levels],
    }


def _measured(comparison: Comparison, finding: SignalFinding) -> dict[str, Any]:
    """Margins in volts, and what is left of the limits of the part that takes the signal in."""
    rows = comparison.levels.rows if comparison.levels is not None else ()
    row = next((r for r in rows if r.signal == finding.signal), None)
    margins = None
    if row is not None:
        margins = {"verdict": row.verdict, "good": _margins(row.good), "suspect": _margins(row.suspect)}
    return {"margins": margins, "limits": None if finding.limits is None else _limits(finding.limits)}


def _margins(side: LevelFigures | None) -> dict[str, float | None] | None:
    if side is None or side.trouble is not None:
        return None
    names = (
        *("low_v", "high_v", "low_margin_v", "high_margin_v"),
        *("promised_low_v", "promised_high_v", "reads_to_v"),
    )
    values = {name: getattr(side, name) for name in names}
    return {name: None if value is None else round(float(value), 4) for name, value in values.items()}


def _limits(kept: LimitsKept) -> dict[str, Any]:
    return {
        "part": kept.limits.part,
        "source": kept.limits.source,
        "readings": [
            {
                "side": side,
                "what": reading.what,
                "smallest_ps": reading.smallest.value_ps,
                "needs_ps": reading.limit_ps,
                "reads_to_ps": reading.resolution_ps,
                "verdict": reading.verdict,
                "breaking": reading.breaking,
                "cycle": reading.good_cycle,
            }
            for side, readings in (("good", kept.good), ("suspect", kept.suspect))
            for reading in readings
        ],
    }


def _level(row: LevelViolation) -> dict[str, Any]:
    return {
        "kind": row.kind,
        "side": row.side,
        "start_ps": int(row.start_ps),
        "stop_ps": int(row.stop_ps),
        "volts": round(float(row.volts), 4),
        "limit_v": round(float(row.limit_v), 4),
        "cycle": None if row.cycle is None else int(row.cycle),
    }
