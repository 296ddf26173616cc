"""Files that are attached to a case, how those of one run belong together, and what their channels are called."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from app.case.record import SIDES
from app.case.side_changes import SetSameNames, SetSideSheet, offered_names, pair_words
from app.cli.settings_options import reading_typed
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from app.case.change import Change
    from app.case.record import OpenCase
    from app.case.shelf import Shelf
    from app.case.values import HeldCapture


def attached(arguments: Namespace, shelf: Shelf, tell: Callable[[float, str], None]) -> tuple[HeldCapture, ...]:
    """The named files as the case holds them; one capture where they are parts of one run.

    Raises RequestError where two hold no signal in common, and nobody said that they are parts.
    """
    from app.case.joined_files import joined_files, strangers, strangers_sentence
    from app.case.shelf import hold
    from tracecore.readers import read_capture

    wish = reading_typed(arguments)
    taken = []
    for name in arguments.files:
        capture = read_capture(name, **wish.arguments, progress=tell)
        held = hold(capture, sample_rate=arguments.rate, layout=arguments.layout, said=wish.said)
        shelf.add(held, capture)
        taken.append((held, capture))
    if arguments.join is not None:
        joined, capture = joined_files(taken, arguments.join)
        shelf.add(joined, capture)
        return (joined,)
    apart = strangers([held for held, _ in taken])
    if apart is not None:
        raise RequestError(
            f"{strangers_sentence(apart)}: --join trigger, or --join and a signal of both. Else attach them singly."
        )
    return tuple(held for held, _ in taken)


def names_given(arguments: Namespace) -> bool:
    """Was anything said of what channels are called?"""
    return arguments.match_names or arguments.good_sheet is not None or arguments.suspect_sheet is not None


def sheet_changes(arguments: Namespace) -> Iterator[Change]:
    """The sheets of one side alone; an empty name takes one away."""
    from tracecore.circuit.probe_sheet import read_probe_sheet

    for side, path in zip(SIDES, (arguments.good_sheet, arguments.suspect_sheet), strict=True):
        if path is not None:
            yield SetSideSheet(side, read_probe_sheet(path) if path else None)


def name_changes(case: OpenCase) -> Iterator[Change]:
    """The consent to names that differ by case, blanks, strokes or a prefix alone."""
    offered = offered_names(case)
    if offered:
        yield SetSameNames((*case.suspect.same, *offered))


def names_told(case: OpenCase, asked: bool) -> Iterator[str]:
    """What was taken for one signal, and what might be."""
    offered = offered_names(case)
    if asked:
        pairs = case.suspect.same
        yield f"Taken as one signal: {pair_words(pairs)}." if pairs else "No two names differ by so little."
    elif offered:
        yield f"Names differ: {pair_words(offered)}. If each pair is one signal, add --match-names."
