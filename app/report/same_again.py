"""How to get the same result again: the program's version, and what to type."""

from __future__ import annotations

import shlex
from pathlib import PurePath
from typing import TYPE_CHECKING

from app import __version__
from tracecore.quantities import format_time
from tracecore.settings import CompareSettings

if TYPE_CHECKING:
    from tracecore.capture import Capture
    from tracecore.comparison import Comparison
    from tracecore.settings import CompareSettings as Settings

PROGRAM = f"Twinslot {__version__}"


def one_command(comparison: Comparison) -> bool:
    """Can one command make it again? It joins all files of a side or none, and by the same on both sides."""
    request = comparison.request
    sides = (request.good, request.suspect)
    joined = [any(capture.parts for capture in side) for side in sides]
    alone = all(len(side) == 1 for side in sides)
    how = {capture.joined_by for side in sides for capture in side if capture.parts}
    return not any(joined) or (alone and len(how) == 1 and "" not in how)


def command_again(comparison: Comparison) -> str:
    """The command with each option that is not as always; files by their names alone, as they lie elsewhere."""
    request = comparison.request
    words = ["twinslot", "compare"]
    for side, captures in (("--good", request.good), ("--suspect", request.suspect)):
        words += [side, *(name for capture in captures for name in _files(capture))]
    if request.sheet.path:
        words += ["--sheet", _name(request.sheet.path)]
    for option, path in zip(("--good-sheet", "--suspect-sheet"), request.own_sheets, strict=True):
        words += [option, _name(path)] if path else []
    joins = {capture.joined_by for capture in (*request.good, *request.suspect)} - {""}
    words += ["--join", *joins] if joins else []
    words += ["--match-names"] if request.same_names else []
    if request.wire_list is not None and request.wire_list.path:
        words += ["--wires", _name(request.wire_list.path)]
    if request.pins is not None and request.pins.path:
        words += ["--pins", _name(request.pins.path)]
    words += _options(request.settings, comparison.lineup.clock)
    return " ".join(shlex.quote(word) for word in words)


def _options(settings: Settings, clock: str) -> list[str]:
    """The settings as options. The clock that was found is named too, so that another file cannot change it."""
    usual = CompareSettings()
    words = ["--clock", settings.clock or clock] if settings.clock or clock else []
    if settings.edge != usual.edge:
        words += ["--edge", settings.edge]
    if settings.offset is not None:
        words += ["--offset", str(settings.offset)]
    if settings.same_start:
        words.append("--same-start")
    if settings.family != usual.family:
        words += ["--family", settings.family]
    if settings.tolerance_ps is not None:
        words += ["--tolerance", format_time(settings.tolerance_ps, digits=15)]
    if settings.supply_v != usual.supply_v:
        words += ["--supply", f"{settings.supply_v!r} V"]
    if settings.bandwidth_hz is not None:
        words += ["--bandwidth", f"{settings.bandwidth_hz!r} Hz"]
    if settings.qualifier is not None:
        words += ["--leave-out", settings.qualifier]
    return [*words, "--same-file"] if settings.same_file else words


def _files(capture: Capture) -> list[str]:
    """All files of a capture."""
    return [_name(capture.path) or capture.name, *(_name(path) for path in capture.parts)]


def _name(path: str) -> str:
    return PurePath(path.replace("\\", "/")).name
