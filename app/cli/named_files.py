"""What a command is to write is held against what it reads, before it reads or writes anything."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from app.output_file import check_output, is_same_file
from tracecore.errors import RequestError
from tracecore.file_name import as_text

FILES_READ = (
    *("good", "suspect", "sheet", "good_sheet", "suspect_sheet", "good_logic", "suspect_logic", "wires"),
    *("files", "file", "case", "pins", "readings", "donors", "capture", "meter", "picture"),
)
FILES_WRITTEN = ("json", "csv", "pair", "plan", "out", "new")
NAMES = (*FILES_READ, *FILES_WRITTEN, "folder")
FOLDER_WRITTEN = ("compare", "demo", "report")
"""Commands whose --out is a folder; that of any other is a file."""
_MAY_BE_EMPTY = {"attach": ("wires", "pins", "readings", "donors", "sheet", "good_sheet", "suspect_sheet")}
"""An empty name takes out of a case what it has."""


def check_named_files(arguments: Namespace) -> None:
    """Makes words that are no names of files plain text.

    Raises RequestError where a file to write is named by no name, is also read, or is written twice."""
    for name, typed in vars(arguments).items():
        if name not in NAMES and isinstance(typed, str):
            setattr(arguments, name, as_text(typed))
    read = list(_read(arguments))
    for name, path in read:
        if not str(path).strip() and name not in _MAY_BE_EMPTY.get(arguments.command, ()):
            raise RequestError(f"{_option(name)}: the name of the file is empty. Name a file, or leave the option out.")
    inputs = [path for _, path in read if str(path).strip()]
    before: dict[str, Path] = {}
    for name, path in _written(arguments):
        if not str(path).strip():
            raise RequestError(f"{_option(name)}: the name is empty. Name what is to be written.")
        if name == "out" and arguments.command in FOLDER_WRITTEN:
            _check_folder_out(Path(path), inputs)
            continue
        check_output(path, inputs)
        for other, taken in before.items():
            if is_same_file(taken, Path(path)):
                raise RequestError(f"{path} is named by {_option(other)} and {_option(name)}. Name two files.")
        if not Path(path).exists() or Path(path).is_file():
            before[name] = Path(path)


def _check_folder_out(folder: Path, inputs: list[str]) -> None:
    """A report replaces the whole folder, so nothing that is read may lie in it."""
    place = folder.resolve()
    for path in inputs:
        if place in Path(path).resolve().parents:
            raise RequestError(f"{path} lies in {folder}, which a report replaces. Name another folder.")


def _read(arguments: Namespace) -> Iterator[tuple[str, str]]:
    for name in FILES_READ:
        named = getattr(arguments, name, None)
        if name == "case" and arguments.command == "open":
            continue
        for path in named if isinstance(named, list) else [named]:
            if isinstance(path, str):
                yield name, path


def _written(arguments: Namespace) -> Iterator[tuple[str, str]]:
    for name in FILES_WRITTEN:
        path = getattr(arguments, name, None)
        if isinstance(path, str) and not (name == "json" and path == "-"):
            yield name, path


def _option(name: str) -> str:
    return {"files": "FILE", "file": "FILE", "case": "CASE", "new": "NEW"}.get(name, f"--{name.replace('_', '-')}")
