"""Writes files whole or not at all: first beside their place, then moved into it."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tracecore.errors import RequestError

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.report.blocks import Report
    from tracecore.comparison import Comparison

HTML, PDF, CSV, JSON, PICTURE = "report.html", "report.pdf", "divergences.csv", "comparison.json", "window.png"
OURS = frozenset({HTML, PDF, CSV, JSON, PICTURE})
Photos = Callable[[str], bytes]


def check_folder(folder: Path) -> None:
    """Raises RequestError where a report cannot go there: a file, or a folder that holds anything else."""
    if str(folder) in ("", "."):
        raise RequestError("The name of the folder is empty. Name a folder for the report.")
    _tidy(folder)
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


def write_report(
    comparison: Comparison | None,
    folder: str | Path,
    *,
    case: OpenCase | None = None,
    photos: Photos | None = None,
    saved: dict[str, Any] | None = None,
    sections: Sequence[str] | None = None,
    page: str = "A4",
    printed: str = "",
) -> tuple[Path, ...]:
    """Writes ``report.html``, ``report.pdf``, ``divergences.csv`` and ``comparison.json``; returns their paths.

    ``case`` adds its log and all else that it holds, ``photos`` gives the bytes of a stored photo, ``saved`` is the
    record of an older comparison, for a case whose captures are absent: then ``comparison`` is None, there is no
    table of divergences, and the JSON is that record. ``sections`` names those wanted (see ``contents.SECTIONS``);
    None takes all. ``page`` is A4 or Letter. ``printed`` is a date that the report shows; no other time enters the
    files, so that the same case gives the same bytes. An older report in the folder is replaced once the new one is
    whole; a folder that holds anything else is refused (RequestError), and so is a section or page that is not known.
    Raises OSError where the disk does not take it; nothing is left then.
    """
    from app.report.contents import build_report
    from app.report.page import report_html
    from app.report.pdf import report_pdf

    folder = Path(folder)
    check_folder(folder)
    report = build_report(comparison, case, photos, saved, sections=sections, printed=printed)
    files = {
        PDF: report_pdf(report, page=page),
        HTML: report_html(report, page=page).encode("utf-8"),
        **_records(comparison, saved),
    }
    written = tuple(name for name in (HTML, PDF, CSV, JSON) if name in files)
    folder.absolute().parent.mkdir(parents=True, exist_ok=True)
    fresh = _sibling(folder, "new")
    try:
        fresh.mkdir()
        for name in written:
            (fresh / name).write_bytes(files[name])
        _put(fresh, folder)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return tuple(folder / name for name in written)


def _records(comparison: Comparison | None, saved: dict[str, Any] | None) -> dict[str, bytes]:
    """The files for scripts: of the comparison, else of the kept record."""
    from app.report.divergences import divergences_csv
    from app.report.record import SCHEMA, comparison_json

    if comparison is not None:
        return {CSV: divergences_csv(comparison).encode("utf-8"), JSON: comparison_json(comparison).encode("utf-8")}
    if saved is not None and saved.get("schema") == SCHEMA:
        return {JSON: (json.dumps(saved, indent=2, allow_nan=False) + "\n").encode("utf-8")}
    return {}


def write_pdf(report: Report, path: str | Path, *, page: str = "A4") -> Path:
    """Writes a report (``contents.build_report``) as one PDF; an older file is replaced once the new one is whole."""
    from app.report.pdf import report_pdf

    return write_bytes(path, report_pdf(report, page=page))


def write_html(report: Report, path: str | Path, *, page: str = "A4") -> Path:
    """Writes a report as one HTML page that needs nothing besides itself."""
    from app.report.page import report_html

    return write_bytes(path, report_html(report, page=page).encode("utf-8"))


def write_json(comparison: Comparison, path: str | Path) -> Path:
    """Writes the JSON alone; an older file is replaced once the new one is whole."""
    from app.report.record import comparison_json

    return write_bytes(path, comparison_json(comparison).encode("utf-8"))


def write_bytes(path: str | Path, data: bytes) -> Path:
    """Writes one file; an older one is replaced once the new one is whole."""
    check_output(path)
    path = Path(path)
    if path.exists() and not path.is_file():
        # a device or a pipe takes what is written; it is nothing to replace
        with path.open("wb") as device:
            device.write(data)
        return path
    fresh = _sibling(path, "new")
    try:
        fresh.write_bytes(data)
        os.replace(fresh, path)
    finally:
        fresh.unlink(missing_ok=True)
    return path


def check_output(path: str | Path, inputs: Iterable[str | Path] = ()) -> None:
    """Raises RequestError where a file cannot be written there: no name, a folder, or one of the ``inputs``."""
    if not str(path).strip():
        raise RequestError("The name of the file to write is empty. Name a file.")
    path = Path(path)
    if path.is_dir():
        raise RequestError(f"{path} is a folder; a file name is needed. Name a file inside it.")
    for name in inputs:
        if _same_file(path, Path(name)):
            raise RequestError(f"{path} is also read by this command, so it is not written over. Name another file.")


def _same_file(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return one.absolute() == other.absolute()


def _sibling(path: Path, what: str) -> Path:
    """A hidden name beside ``path``, so that the last move stays on one disk."""
    absolute = path.absolute()
    return absolute.with_name(f".{absolute.name}.{what}-{os.getpid()}")


def _tidy(folder: Path) -> None:
    """Puts right what a run left that was killed between its two moves: the older report is whole beside its place."""
    absolute = folder.absolute()
    left = sorted(absolute.parent.glob(f".{absolute.name}.old-*")) if absolute.parent.is_dir() else []
    for old in left:
        if _is_running(old.name.rpartition("-")[2]):
            continue
        if folder.exists():
            shutil.rmtree(old, ignore_errors=True)
        else:
            old.rename(folder)


def _is_running(number: str) -> bool:
    """Is the program of that number at work? Then what it has beside the folder is its own."""
    if not number.isdecimal() or os.name == "nt":
        return False
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return int(number) != os.getpid()


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
