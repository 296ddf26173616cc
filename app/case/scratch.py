"""Where a case lives that nobody has named yet, so that there is never a moment at which work is not kept."""

from __future__ import annotations

import getpass
from datetime import datetime
from pathlib import Path

from app.case.dates import time_words
from app.case.errors import CaseBusy, CaseError
from app.case.store import SUFFIX, CaseStore
from app.own_folders import own_folder

STEM, MOST = "unnamed", 100


def default_author() -> str:
    """The initial of whoever is logged in, as it is signed in a logbook; empty where nobody can be told.

    A container's user may have no name at all.
    """
    try:
        name = getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""
    return f"{name[0].upper()}." if name else ""


def scratch_folder() -> Path:
    """The folder of unnamed cases: TWINSLOT_SETTINGS where it is set, else the user's own data folder.

    Raises OSError where the user has none.
    """
    return own_folder("data") / "unnamed"


def open_scratch(author: str = "", *, carry_on: bool = False) -> CaseStore:
    """A case of its own in the scratch folder; with ``carry_on`` the newest one there that holds anything.

    Where that folder cannot be written, the case lives in memory.
    """
    try:
        folder = scratch_folder()
        folder.mkdir(parents=True, exist_ok=True)
        there = sorted(folder.glob(f"{STEM}*{SUFFIX}"), key=lambda p: p.stat().st_mtime, reverse=True)
    except OSError:
        return CaseStore.in_memory()
    for path in there if carry_on else []:
        try:
            store = CaseStore.open(path, make=False)
        except CaseError:
            # open in another window, or damaged: it stays where it is
            continue
        if store.history():
            return store
        store.close()
    return _fresh(folder, author)


def _fresh(folder: Path, author: str) -> CaseStore:
    for number in range(1, MOST):
        path = folder / f"{STEM}{'' if number == 1 else f'-{number}'}{SUFFIX}"
        if path.exists():
            continue
        try:
            return CaseStore.open(path, author=author)
        except CaseBusy:
            continue
        except CaseError:
            break
    return CaseStore.in_memory()


def is_scratch(store: CaseStore) -> bool:
    """Is this a case that nobody has named yet?"""
    return store.path is None or is_unnamed(store.path)


def is_unnamed(path: Path) -> bool:
    """Does a case file lie where those are kept that have no name yet?"""
    return path.parent == scratch_folder()


def shown_name(path: Path, title: str) -> str:
    """What a case is called in a list: its file's name; one without a name by its title, and since when it lies there.

    Raises OSError where the file is gone.
    """
    if not is_unnamed(path):
        return path.stem
    when = datetime.fromtimestamp(path.stat().st_mtime).astimezone().isoformat()
    return (
        f"{f'{title}, no file of its own yet' if title else 'No file of its own yet'} ({time_words(when, year=False)})"
    )


def let_go(store: CaseStore) -> None:
    """Closes a case; an unnamed one in which nothing was done but opening files is thrown away."""
    empty = is_scratch(store) and len(store.history()) <= 1
    store.close()
    if empty and store.path is not None:
        store.path.unlink(missing_ok=True)
