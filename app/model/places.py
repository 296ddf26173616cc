"""Where files go that a person writes: beside the case, else into the documents folder; never into a hidden one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from app.case.scratch import is_scratch

if TYPE_CHECKING:
    from app.case.store import CaseStore


def documents() -> Path:
    """The person's documents folder; the home folder where there is none."""
    from platformdirs import user_documents_path

    found = user_documents_path()
    return found if found.is_dir() else Path.home()


def folder_for(store: CaseStore) -> Path:
    """Where a form that asks for a file begins: beside a case that has a name."""
    return documents() if is_scratch(store) or store.path is None else store.path.parent


def shown_title(store: CaseStore, title: str, untitled: str) -> str:
    """A case's title; one without takes its file's name, where a person gave it one."""
    if title != untitled or is_scratch(store) or store.path is None:
        return title
    return store.path.stem
