"""Names of channels that mean one signal on both sides, and are not written alike."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from tracecore.capture import Capture

_BIT = re.compile(r"(.*?)((?:\[\d+\])?)$", re.DOTALL)


def short_name(name: str) -> str:
    """The name without the scopes in front.

    >>> short_name("crate.slot.D[3]"), short_name("CLK")
    ('D[3]', 'CLK')
    """
    front, bit = _BIT.fullmatch(name).groups()  # type: ignore[union-attr]
    return front.rpartition(".")[2] + bit


def plain_name(name: str) -> str:
    """The short name without what a person writes now so and now so: case, blanks, and strokes.

    >>> plain_name("Ch 1: Mem_Rq"), plain_name("MEM RQ")
    ('memrq', 'memrq')
    """
    return re.sub(r"[\s_\-]+", "", short_name(name).rpartition(":")[2]).lower()


def renamed(capture: Capture, names: Mapping[str, str]) -> Capture:
    """The capture with channels called as ``names`` say.

    A name that is taken is not given a second time.
    """
    given = given_names(capture.channels, names)
    if not given:
        return capture
    return replace(
        capture,
        digital={given.get(name, name): trace for name, trace in capture.digital.items()},
        analog={given.get(name, name): trace for name, trace in capture.analog.items()},
    )


def given_names(channels: Sequence[str], names: Mapping[str, str]) -> dict[str, str]:
    """Which of ``names`` can be given to channels so that each still has a name of its own.

    >>> given_names(("A", "B"), {"A": "CLK", "C": "D"}), given_names(("A", "B"), {"A": "B"})
    ({'A': 'CLK'}, {})
    """
    left = set(channels) - set(names)
    given = {old: new for old, new in names.items() if new not in left and old in channels}
    return given if len(set(given.values())) == len(given) else {}


def sheet_names(channels: Sequence[str], signals: Mapping[str, str]) -> dict[str, str]:
    """Channels to the signals that a side's own sheet gives them; a channel of the sheet may be a short name.

    >>> sheet_names(("top.A", "B"), {"A": "CLK"})
    {'top.A': 'CLK'}
    """
    short = _matches(channels, signals, short_name)
    called = {name: short.get(name, name) for name in channels}
    return given_names(channels, {name: signals[new] for name, new in called.items() if new in signals})


def answering(capture: Capture, wanted: Iterable[str]) -> Capture:
    """The capture, with channels that are asked for by their short names called so where no other has that short name.

    ``wanted`` are the names that a sheet, a clock or the other side uses.
    """
    return renamed(capture, _matches(capture.channels, wanted, short_name))


def same_names(capture: Capture, wanted: Collection[str]) -> dict[str, str]:
    """Channels that differ from a wanted name by case, blanks, strokes or a prefix alone, with that name.

    Nobody knows that they are one but a person: their consent is asked before they are taken so.
    """
    return plain_matches(capture.channels, wanted)


def plain_matches(channels: Sequence[str], wanted: Collection[str]) -> dict[str, str]:
    """The same of channels by their names alone.

    >>> plain_matches(("m clk", "D0"), ("MCLK", "D0"))
    {'m clk': 'MCLK'}
    """
    return _matches(channels, wanted, plain_name)


def _matches(channels: Sequence[str], wanted: Iterable[str], form: Callable[[str], str]) -> dict[str, str]:
    """Channels to wanted names of the same form, where one of each has it."""
    asked = [name for name in dict.fromkeys(wanted) if name not in channels]
    free = [name for name in channels if name not in set(wanted)]
    forms, held = Counter(map(form, asked)), Counter(map(form, channels))
    sought = {form(name): name for name in asked if forms[form(name)] == 1}
    return {name: sought[form(name)] for name in free if form(name) in sought and held[form(name)] == 1}
