"""Writes files whole or not at all: first beside their place, then moved into it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.output_file import beside, left_beside, write_bytes, write_text
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
        raise RequestError("A report needs a folder of its own, and no folder is named. Name a folder for the report.")
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
        HTML: report_html(report, page=page).encode("utf-8", "backslashreplace"),
        **_records(comparison, saved),
    }
    written = tuple(name for name in (HTML, PDF, CSV, JSON) if name in files)
    folder.absolute().parent.mkdir(parents=True, exist_ok=True)
    fresh = beside(folder, "new")
    try:
        fresh.mkdir()
        for name in written:
            (fresh / name).write_bytes(files[name])
        _put(fresh, folder)
    except OSError as error:
        # the hidden name beside the place would tell a person nothing
        raise OSError(error.errno, error.strerror, str(folder)) from error
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

    return write_text(path, report_html(report, page=page))


def write_json(comparison: Comparison, path: str | Path) -> Path:
    """Writes the JSON alone; an older file is replaced once the new one is whole."""
    from app.report.record import comparison_json

    return write_text(path, comparison_json(comparison))


def _tidy(folder: Path) -> None:
    """Puts right what a run left that was killed between its two moves: the older report is whole beside its place."""
    for old in left_beside(folder, "old"):
        if folder.exists():
            shutil.rmtree(old, ignore_errors=True)
        else:
            old.rename(folder)
    for fresh in left_beside(folder, "new"):
        shutil.rmtree(fresh, ignore_errors=True)


def _put(fresh: Path, folder: Path) -> None:
    """Moves a whole folder into its place; the old one goes only after that."""
    if not folder.exists():
        fresh.rename(folder)
        return
    old = beside(folder, "old")
    folder.rename(old)
    try:
        fresh.rename(folder)
    except OSError:
        old.rename(folder)
        raise
    shutil.rmtree(old, ignore_errors=True)
