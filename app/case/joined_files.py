"""Files of one run on one side as one capture of the case."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from app.case.side_names import as_read
from app.case.values import HeldCapture
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from tracecore.capture import Capture


def joined_files(taken: Sequence[tuple[HeldCapture, Capture]], how: str) -> tuple[HeldCapture, Capture]:
    """What the case keeps in place of several files of one run, and their capture as it is read.

    ``taken`` are single files with their captures as read. ``how`` is "trigger", or a signal that each of them holds.
    Raises RequestError, one sentence, where they cannot be joined.
    """
    from app.case.activity_thumbnail import shades
    from tracecore.sides.join import joined

    hashes = [held.sha256 for held, _ in taken]
    twice = next((held.name for held, _ in taken if held.sha256 and hashes.count(held.sha256) > 1), None)
    if twice is not None:
        raise RequestError(f"{twice} was named twice: a file is no part beside itself. Name each file once.")
    capture = joined([capture for _, capture in taken], how)
    first, *rest = (as_read(held) for held, _ in taken)
    held = replace(
        first,
        key=secrets.token_hex(6),
        name=capture.name,
        channels=capture.channels,
        resolution_ps=capture.resolution_ps,
        start_ps=capture.start_ps,
        stop_ps=capture.stop_ps,
        facts=capture.facts,
        notes=capture.notes,
        shades=shades(capture),
        parts=tuple(rest),
        parts_by=how,
    )
    return held, capture


def strangers(captures: Sequence[HeldCapture]) -> tuple[str, str] | None:
    """The names of two of these that hold no signal in common, so that the one is no repeat of the other."""
    for other in captures[1:]:
        if not set(other.channels) & set(captures[0].channels):
            return captures[0].name, other.name
    return None


def strangers_sentence(names: tuple[str, str]) -> str:
    """What is said of them."""
    return (
        f"{names[0]} and {names[1]} hold no signal in common, so the one is no repeat of the other. "
        "If they are parts of one run, say how they are joined"
    )
