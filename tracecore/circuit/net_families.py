"""Which family drives a signal and which reads it, by its row on the probe sheet."""

from __future__ import annotations

from tracecore.circuit.probe_sheet import Probe
from tracecore.errors import RequestError
from tracecore.measure.families import Family, family
from tracecore.measure.part_figures import part_figures


def driver_family(probe: Probe, default: str) -> Family:
    """The family of the output; ``default`` where the row names none. Raises RequestError for an unknown one."""
    return family(probe.family or default)


def receiver_family(probe: Probe, default: str) -> Family:
    """The family of the input: as the row says, else that of the part it goes into, else the driver's."""
    if probe.receiver:
        return family(probe.receiver)
    if probe.into:
        number = probe.into.split()[0]
        try:
            return family(number)  # an input with hysteresis is a family of its own
        except RequestError:
            pass
        try:
            return family(part_figures(number).family)
        except RequestError:
            return driver_family(probe, default)  # the part is asked for again, and told, where timing is judged
    return driver_family(probe, default)
