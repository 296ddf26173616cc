"""What a signal's volts may come from. That is a guess and says "may"; what would confirm it stands beside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tracecore.circuit.probe_sheet import Probe
from tracecore.compare.findings import Side
from tracecore.compare.signal_levels import LevelFinding, SignalLevels
from tracecore.measure.level_figures import BREAKS, LevelFigures
from tracecore.quantities import format_time, format_volts

GROUND_SHIFT_V = 0.1
"""Both levels raised alike by more than this may be a shift of ground (common practice)."""
FIGHT_V = 1.5
_ASYMMETRY = 4

MORE_OHMS, PULL_UP, LOAD = "More ohms than good", "may be the pull-up or terminator", "may be load"
"""What ohms from a line that rises slowly to +5 V may say; the likely causes ask for the same."""


def level_finding(row: SignalLevels, probe: Probe) -> LevelFinding | None:
    """The gravest thing that the suspect shows and the good side does not; else what both show."""
    side = row.suspect if row.suspect is not None else row.good
    if side is None or side.trouble is not None:
        return None
    own: Side = "suspect" if row.suspect is not None else "good"
    counts = {kind: side.count(kind) for kind in BREAKS}
    good_counts = {kind: row.good.count(kind) if row.good is not None and own == "suspect" else 0 for kind in BREAKS}
    new = [kind for kind in BREAKS if counts[kind] > 3 * good_counts[kind]]
    driver_pin = probe.driver or "the driver's own pin"
    first = next(
        (v.cycle for v in row.violations if v.side == own and v.kind in (new or BREAKS) and v.cycle is not None), None
    )
    found: LevelFinding | None = None
    if "steady mid-level" in new:
        found = _open_input(row, side, own, driver_pin)
    elif _slow_rise(row, side):
        found = _no_pull_up(row, side, own, driver_pin)
    elif "weak low" in new:
        found = _weak_low(row, side, own, driver_pin)
    elif new:
        found = _plain(side, own, new[0])
    elif ground_shift(row):
        found = _ground(row, side, own)
    elif row.verdict in ("violates", "marginal"):
        found = _margin(row, side, own)
    return None if found is None else replace(found, since_cycle=first)


def _events(side: LevelFigures, kind: str) -> list[float]:
    return [e.volts for e in side.events if e.kind == kind]


def _open_input(row: SignalLevels, side: LevelFigures, own: Side, pin: str) -> LevelFinding:
    volts = float(np.median(_events(side, "steady mid-level")))
    good = "" if row.good is None or own == "good" else " while the known-good side moves"
    return LevelFinding(
        f"rests at {format_volts(volts)}",
        f"It rests at {format_volts(volts)} on the {own} side{good}: neither low nor high. It may be an open input, "
        "which rests between 1.1 and 1.8 V, with the path to its driver open.",
        f"with power off, ohms from {pin} to this pin; with power on, the level at {pin}",
        (("Moves there", "may be an open wire, contact or via"), ("Rests there too", "may be the driver's output")),
        own,
    )


def _slow_rise(row: SignalLevels, side: LevelFigures) -> bool:
    """A slow rise with a quick fall: a line that is let go and pulled up by too little."""
    rise, fall = side.rising.median_ps, side.falling.median_ps
    if rise is None or fall is None or rise < _ASYMMETRY * max(fall, side.instrument_ps):
        return False
    good = row.good.rising.median_ps if row.good is not None and side is row.suspect else None
    slower = good is None or rise > 2 * good
    return slower and (side.count("slow transition") > 0 or side.count("weak high") > 0 or rise > 60_000)


def _no_pull_up(row: SignalLevels, side: LevelFigures, own: Side, pin: str) -> LevelFinding:
    rise, fall = side.rising.median_ps or 0.0, side.falling.median_ps or 0.0
    was = ""
    if row.good is not None and side is row.suspect and row.good.rising.median_ps:
        was = f", {format_time(round(row.good.rising.median_ps), digits=3)} on the known-good side"
    return LevelFinding(
        f"slow rise, {format_time(round(rise), digits=2)}",
        f"It rises in {format_time(round(rise), digits=3)} (10 to 90 %{was}) and falls in "
        f"{format_time(round(fall), digits=2)}. It may be an open-collector line without its pull-up or terminator, or "
        "with more load than it had: the rise takes 2.2 times R times C.",
        "with power off, ohms from this line to +5 V, both units; with power on, where it rests while no one drives it",
        ((MORE_OHMS, PULL_UP), ("The same", f"{LOAD}; compare at {pin}")),
        own,
    )


def _weak_low(row: SignalLevels, side: LevelFigures, own: Side, pin: str) -> LevelFinding:
    volts = _events(side, "weak low")
    typical = float(np.median(volts))
    count = len(volts)
    while_ = f" while {row.condition} is {'high' if row.condition_high else 'low'}" if row.condition else ""
    fight = typical <= FIGHT_V
    either = " or two outputs that fight" if fight else ""
    return LevelFinding(
        f"weak low {format_volts(typical)}",
        f"{count} low{'s' if count != 1 else ''} rise{'s' if count == 1 else ''} to {format_volts(typical)} on the "
        f"{own} side{while_}; a low is {format_volts(side.receiver.vil_v)} at most. It may be a contact or wire of "
        f"raised resistance{either}.",
        pin,
        (
            ("Low there", "may be a contact or wire"),
            ("Raised there too", "may be two outputs that fight, or its ground"),
        ),
        own,
    )


_PLAIN: dict[str, tuple[str, str]] = {
    "weak high": (
        "Highs stop at {volts}; a high is {limit} at least.",
        "may be a heavy load, or an output that is tired",
    ),
    "runt": ("Pulses turn back at {volts}, before the other level is reached.", "may be two signals that race"),
    "undefined": ("It lingers near {volts}, between low and high.", "may be a net that no output drives"),
    "slow transition": (
        "It takes longer through the undefined band than an input takes.",
        "may be load or a weak output",
    ),
}


def _plain(side: LevelFigures, own: Side, kind: str) -> LevelFinding:
    volts = _events(side, kind)
    level = float(np.median(volts)) if volts else 0.0
    limit = side.receiver.vih_v if kind == "weak high" else side.receiver.vil_v
    words, may = _PLAIN.get(kind, ("", "may be many things"))
    text = words.format(volts=format_volts(level), limit=format_volts(limit))
    return LevelFinding(
        f"{kind} {format_volts(level)}",
        f"{text} {len(volts)} times on the {own} side: {may}.",
        "the driver's own pin, and its supply and ground pins",
        (("The same there", "may be the part or its supply"), ("Sound there", "may be the path between")),
        own,
    )


def ground_shift(row: SignalLevels) -> bool:
    """Are both levels moved alike, by more than they read to?"""
    low, high = row.low_shift, row.high_shift
    if low is None or high is None:
        return False
    alike = abs(low.value - high.value) <= max(low.reads_to, 0.25 * abs(low.value))
    return alike and min(abs(low.value), abs(high.value)) > max(GROUND_SHIFT_V, low.reads_to)


def _ground(row: SignalLevels, side: LevelFigures, own: Side) -> LevelFinding:
    assert row.low_shift is not None
    by = row.low_shift.value
    return LevelFinding(
        f"both levels {'raised' if by > 0 else 'lowered'} by {format_volts(abs(by))}",
        f"Low and high lie {format_volts(abs(by))} {'above' if by > 0 else 'below'} those of the known-good side, "
        "alike. It may be the ground of the board or of the probe.",
        "millivolts from this board's ground pin to the backplane's ground, in operation",
        (("The same shift there", "may be the ground contacts"), ("None", "may be the probe's own ground lead")),
        own,
    )


def _margin(row: SignalLevels, side: LevelFigures, own: Side) -> LevelFinding | None:
    worst = side.worst_margin_v
    if worst is None:
        return None
    low = worst == side.low_margin_v
    promised = side.promised_low_v if low else side.promised_high_v
    return LevelFinding(
        f"{'low' if low else 'high'} margin {format_volts(worst)}",
        f"The {'low' if low else 'high'} margin is {format_volts(worst)} on the {own} side; {side.driver.name} into "
        f"{side.receiver.name} is promised {format_volts(promised)}.",
        "the driver's own pin",
        (("More margin there", "may be the path between"), ("The same there", "may be the part or its load")),
        own,
    )
