"""The way from a net's driver to a pin, by the pin list where it knows the net, else by the probe sheet."""

from __future__ import annotations

from tracecore.circuit.continuity.path import NetPath
from tracecore.circuit.continuity.pin_name import pin_name
from tracecore.circuit.pin_list import PinList
from tracecore.circuit.probe_sheet import ProbeSheet


def place_of(slot: str, pin: str) -> str:
    """A pin as it is typed; empty where it is none.

    >>> place_of("7", "b4"), place_of("", "B04")
    ('7-B04', '')
    """
    try:
        return pin_name(f"{slot}-{pin}")
    except ValueError:
        return ""


def driver_place(driver: str) -> str:
    """The sheet's driver as it is typed; empty where it is none."""
    slot, dash, pin = driver.rpartition("-")
    return place_of(slot, pin) if dash else ""


def place_on_sheet(sheet: ProbeSheet, signal: str) -> str:
    """Where a signal was captured; empty where the sheet does not say."""
    return next((place_of(p.slot, p.pin) for p in sheet.probes if p.signal == signal), "")


def net_at(pins: PinList, sheet: ProbeSheet, point: str) -> str:
    """The net at a pin: the pin list's, else the signal that was captured or is driven there."""
    found = pins.net_at(point)
    if found or not point:
        return found
    for probe in sheet.probes:
        if point in (place_of(probe.slot, probe.pin), driver_place(probe.driver)):
            return probe.signal
    return ""


def path_to(pins: PinList, sheet: ProbeSheet, point: str) -> NetPath | None:
    """The path of the net at ``point``: to that pin, or to its last receiver where the pin is the driver's own.

    None where neither list knows a driver and another pin.
    """
    net = pins.net_at(point)
    if net:
        found = pins.path_of(net, point) or pins.path_of(net)
        if found is not None:
            return found
    for probe in sheet.probes:
        here, driver = place_of(probe.slot, probe.pin), driver_place(probe.driver)
        if here and driver and here != driver and point in (here, driver):
            return NetPath((driver, here), pins.ground_of(probe.slot))
    return None
