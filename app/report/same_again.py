"""How to get the same result again: the program's version, and what to type."""

from __future__ import annotations

import shlex
from pathlib import PurePath
from typing import TYPE_CHECKING

from app import __version__
from tracecore.quantities import format_time
from tracecore.settings import CompareSettings

if TYPE_CHECKING:
    from tracecore.comparison import Comparison
    from tracecore.settings import CompareSettings as Settings

PROGRAM = f"Twinslot {__version__}"


def command_again(comparison: Comparison) -> str:
    """The command with each option that is not as always; files by their names alone, as they lie elsewhere."""
    request = comparison.request
    words = ["twinslot", "compare"]
    for side, captures in (("--good", request.good), ("--suspect", request.suspect)):
        words += [side, *(_name(capture.path) or capture.name for capture in captures)]
    if request.sheet.path:
        words += ["--sheet", _name(request.sheet.path)]
    if request.wire_list is not None and request.wire_list.path:
        words += ["--wires", _name(request.wire_list.path)]
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
    if settings.qualifier is not None:
        words += ["--leave-out", settings.qualifier]
    return [*words, "--same-file"] if settings.same_file else words


def _name(path: str) -> str:
    return PurePath(path.replace("\\", "/")).name
