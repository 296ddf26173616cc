"""What would make a chip's outputs right, in a sentence that cause, chip page, report and command share."""

from __future__ import annotations

from collections.abc import Mapping

from tracecore.circuit.parts.explanations import Explanation
from tracecore.quantities import format_time

LEVEL_WORDS = {0: "low", 1: "high"}


def what_fits(told: Explanation, nets: Mapping[int, str] | None = None, since: str = "") -> str:
    """The sentence; ``nets`` are the names of the nets at the legs, where they are known, and ``since`` words for from
    when on it holds, such as "from cycle 307 on".

    >>> what_fits(Explanation("dead input", (3,), ("C",), 1), {3: "ADDR02"})
    'All of it fits if leg 3 (C) reads high, whatever ADDR02 does.'
    """
    known = nets or {}
    legs = " and ".join(f"{leg} ({known.get(leg, name)})" for leg, name in zip(told.legs, told.names, strict=True))
    some = f"leg{'s' if len(told.legs) > 1 else ''} {legs}"
    level = LEVEL_WORDS[told.level or 0]
    if told.kind == "dead input":
        said = f"leg {told.legs[0]} ({told.names[0]}) reads {level}, whatever {known.get(told.legs[0], 'its net')} does"
    elif told.kind == "stuck output":
        said = f"{some} is held {level}"
    elif told.kind == "joined outputs":
        said = f"{some} are joined"
    elif told.kind == "late output":
        late = format_time(told.late_ps or 0, digits=3)
        said = f"{some} may take up to {late}, more than the data sheet allows"
    elif told.kind == "swapped leads":
        said = (
            "the clip sits the wrong way round, or a leg aside"
            if told.rotated
            else f"the leads of {some} are exchanged"
        )
    else:
        said = f"it is a {told.number}"
    return f"All of it fits{f' {since}' if since else ''} if {said}."
