"""A case file as commands open it and write to it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from app.case.store import CaseStore

if TYPE_CHECKING:
    from app.case.change import Change
    from app.case.record import OpenCase


@contextmanager
def opened(path: str, *, make: bool = False, author: str = "", look_only: bool = False) -> Iterator[CaseStore]:
    """The case, closed at the end whatever happens."""
    store = CaseStore.open(path, make=make, author=author, look_only=look_only)
    try:
        yield store
    finally:
        store.close()


def read_case(store: CaseStore) -> OpenCase:
    """The case as it stands; what its file holds and cannot be read is told on stderr."""
    case = store.read()
    if case.unread:
        from app.cli.terminal import say

        for sentence in case.unread:
            say(f"{store.path}: {sentence}. It is left out.")
        say(f"All else in {store.path} was read. Keep a copy before you write to it.")
    return case


def keep(store: CaseStore, case: OpenCase, change: Change, author: str) -> OpenCase:
    """The case after a change, which is in the file then; a change that changes nothing leaves no trace."""
    after = change.applied(case)
    if after != case:
        store.keep(change.words, author, after)
    return after
