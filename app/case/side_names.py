"""What the channels of a side's captures are called in the case, where it is not what their files call them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from app.case.values import HeldCapture
from tracecore.circuit.probe_sheet import Probe, ProbeSheet

SameNames = tuple[tuple[str, str], ...]
"""A name on this side, and the name on the other side that means the same signal."""


def named(held: HeldCapture, sheet: ProbeSheet | None, same: SameNames) -> HeldCapture:
    """The capture with its channels called by the side's own ``sheet``, and then as ``same`` says.

    What is said of its leads goes along. The capture itself where nothing differs.
    """
    if sheet is None and not same and not held.called:
        return held
    # numpy is slow to import, and most cases have one sheet for both sides
    from tracecore.sides.names import given_names, sheet_names

    own = file_channels(held)
    first = sheet_names(own, {p.channel: p.signal for p in sheet.probes}) if sheet is not None else {}
    now = [first.get(name, name) for name in own]
    again = given_names(now, dict(same))
    called = {name: again.get(then, then) for name, then in zip(own, now, strict=True)}
    was = dict(held.called)
    moved = {was.get(name, name): called[name] for name in own}
    return _renamed(held, moved, tuple((name, new) for name, new in called.items() if name != new))


def file_channels(held: HeldCapture) -> tuple[str, ...]:
    """What its files call the channels."""
    back = {new: name for name, new in held.called}
    return tuple(back.get(channel, channel) for channel in held.channels)


def as_read(held: HeldCapture) -> HeldCapture:
    """The capture as its files have it: their names, and each lead where it sat."""
    bare = replace(held, swaps=(), inverted=(), unread=())
    return replace(bare, channels=file_channels(held), called=())


def _renamed(held: HeldCapture, moved: Mapping[str, str], called: SameNames) -> HeldCapture:
    def new(names: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(moved.get(name, name) for name in names)

    return replace(
        held,
        channels=new(held.channels),
        swaps=tuple((moved.get(a, a), moved.get(b, b)) for a, b in held.swaps),
        inverted=new(held.inverted),
        unread=new(held.unread),
        called=called,
    )


def as_in_case(sheet: ProbeSheet) -> tuple[Probe, ...]:
    """The rows of a side's own sheet under the names that its channels have in the case."""
    return tuple(replace(probe, channel=probe.signal) for probe in sheet.probes)


def one_sheet(sheet: ProbeSheet, own: tuple[ProbeSheet | None, ...]) -> ProbeSheet:
    """The sheet of both sides, and what the sides' own sheets add: signals that it has no row for."""
    probes = list(sheet.probes)
    for side in own:
        held = {name for probe in probes for name in (probe.channel, probe.signal)}
        probes += [] if side is None else [probe for probe in as_in_case(side) if probe.signal not in held]
    return sheet if len(probes) == len(sheet.probes) else replace(sheet, probes=tuple(probes))
