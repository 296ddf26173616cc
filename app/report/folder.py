"""Writes files whole or not at all: first beside their place, then moved into it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from tracecore.errors import RequestError

if TYPE_CHECKING:
    from tracecore.comparison import Comparison

HTML, CSV, JSON, PICTURE = "report.html", "divergences.csv", "comparison.json", "window.png"
OURS = frozenset({HTML, CSV, JSON, PICTURE})


def check_folder(folder: Path) -> None:
    """Raises RequestError where a report cannot go there: a file, or a folder that holds anything else."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise RequestError(f"{folder} is not a folder; a report needs a folder of its own. Name another one.")
    if not folder.exists():
        return
    strangers = sorted(entry.name for entry in folder.iterdir() if entry.name not in OURS)
    if strangers:
        raise RequestError(
            f"{folder} holds {strangers[0]!r}, which is no part of a report, so it is left alone; "
            "a report needs a folder of its own. Name another one."
        )


def write_report(comparison: Comparison, folder: str | Path, *, printed: str = "") -> tuple[Path, ...]:
    """Writes ``report.html``, ``divergences.csv`` and ``comparison.json``; returns their paths in that order.

    ``printed`` is a date that the report shows; no other time enters the files, so that the same comparison gives
    the same bytes. An older report in the folder is replaced once the new one is whole; a folder that holds
    anything else is refused (RequestError). Raises OSError where the disk does not take it; nothing is left then.
    """
    from app.report.divergences import divergences_csv
    from app.report.page import report_html
    from app.report.record import comparison_json

    folder = Path(folder)
    check_folder(folder)
    texts = {
        HTML: report_html(comparison, printed=printed),
        CSV: divergences_csv(comparison),
        JSON: comparison_json(comparison),
    }
    folder.absolute().parent.mkdir(parents=True, exist_ok=True)
    fresh = _sibling(folder, "new")
    try:
        fresh.mkdir()
        for name, text in texts.items():
            (fresh / name).write_bytes(text.encode("utf-8"))
        _put(fresh, folder)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return tuple(folder / name for name in texts)


def write_json(comparison: Comparison, path: str | Path) -> Path:
    """Writes the JSON alone; an older file is replaced once the new one is whole."""
    from app.report.record import comparison_json

    return write_bytes(path, comparison_json(comparison).encode("utf-8"))


def write_bytes(path: str | Path, data: bytes) -> Path:
    """Writes one file; an older one is replaced once the new one is whole."""
    path = Path(path)
    if path.is_dir():
        raise RequestError(f"{path} is a folder; a file name is needed. Name a file inside it.")
    fresh = _sibling(path, "new")
    try:
        fresh.write_bytes(data)
        os.replace(fresh, path)
    finally:
        fresh.unlink(missing_ok=True)
    return path


def _sibling(path: Path, what: str) -> Path:
    """A hidden name beside ``path``, so that the last move stays on one disk."""
    absolute = path.absolute()
    return absolute.with_name(f".{absolute.name}.{what}-{os.getpid()}")


def _put(fresh: Path, folder: Path) -> None:
    """Moves a whole folder into its place; the old one goes only after that."""
    if not folder.exists():
        fresh.rename(folder)
        return
    old = _sibling(folder, "old")
    folder.rename(old)
    try:
        fresh.rename(folder)
    except OSError:
        old.rename(folder)
        raise
    shutil.rmtree(old, ignore_errors=True)
