"""Runs every command on a bad day, each in a process of its own that is split off from one that has all imports.

    python -m tests.cli.bad_day FOLDER [CONDITION ...]

FOLDER holds what ``every_command.fill`` writes. Each run is told as a line of JSON. Needs a POSIX system.
"""

from __future__ import annotations

import errno
import json
import os
import resource
import select
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.cli.every_command import LINES, line

USER = ("HOME", "USER", "LOGNAME", "LNAME", "USERNAME")
PATIENCE_S = 300.0
ODD = os.fsdecode(b"o\xffdd\x1b[31m")


def closed(*numbers: int) -> Callable[[Path], None]:
    """Closes standard streams, as a shell does by ``2>&-``."""

    def set_up(_folder: Path) -> None:
        for number in numbers:
            os.close(number)
            setattr(sys, ("stdin", "stdout", "stderr")[number], None)

    return set_up


def _full_stdout(_folder: Path) -> None:
    os.dup2(os.open("/dev/full", os.O_WRONLY), 1)


def _full_disk(bytes_left: int) -> Callable[[Path], None]:
    def set_up(_folder: Path) -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (bytes_left, bytes_left))

    return set_up


def _no_home(_folder: Path) -> None:
    import pwd

    def nobody(number: int) -> pwd.struct_passwd:
        raise KeyError(f"getpwuid(): uid not found: {number}")

    for name in [name for name in os.environ if name.startswith(("XDG_", "TWINSLOT_")) or name in USER]:
        del os.environ[name]
    pwd.getpwuid = nobody


def _no_room_at_home(_folder: Path) -> None:
    for name in [name for name in os.environ if name.startswith(("XDG_", "TWINSLOT_"))]:
        del os.environ[name]
    os.environ["HOME"] = "/proc/nowhere"


def _read_only(_folder: Path) -> None:
    os.chdir("/proc")


def _gone(folder: Path) -> None:
    place = folder / "gone"
    place.mkdir()
    os.chdir(place)
    place.rmdir()


def _ascii(_folder: Path) -> None:
    for number, name in ((1, "stdout"), (2, "stderr")):
        setattr(sys, name, open(number, "w", encoding="ascii", errors="strict", closefd=False))  # noqa: SIM115


def _full_temporary(_folder: Path) -> None:
    def full(*_words: object, **_more: object) -> str:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), tempfile.gettempdir())

    for name in ("mkdtemp", "mkstemp", "TemporaryFile", "NamedTemporaryFile"):
        setattr(tempfile, name, full)


CONDITIONS: dict[str, Callable[[Path], None]] = {
    "as usual": lambda _folder: None,
    "stderr closed": closed(2),
    "stdout closed": closed(1),
    "all streams closed": closed(0, 1, 2),
    "stdout full": _full_stdout,
    "disk full": _full_disk(0),
    "disk full after 20 kB": _full_disk(20_000),
    "temporary folder full": _full_temporary,
    "no home, no user": _no_home,
    "no room at home": _no_room_at_home,
    "read-only folder": _read_only,
    "folder gone": _gone,
    "names no text, ASCII terminal": _ascii,
}


def words_of(command: str, condition: str, folder: Path, out: Path) -> list[str]:
    """The words of a command: paths are whole where the program is not run in the folder, names odd where asked for."""
    words = line(command, out)
    if condition == "read-only folder" and command in ("report", "card"):
        # by itself these write to where one is
        words = words[: words.index("--out")]
    made = [words[0]]
    for word in words[1:]:
        path = folder / word
        if word == "." or not path.exists():
            made.append(str(folder) if word == "." else word)
        elif condition.startswith("names no text") and path.is_file():
            odd = path.with_name(ODD + path.name)
            shutil.copyfile(path, odd)
            made.append(str(odd))
        else:
            made.append(str(path))
    return made


def run_one(command: str, condition: str, folder: Path, out: Path) -> dict[str, object]:
    """Status, output and sentences of one run."""
    words = words_of(command, condition, folder, out)
    pipes = [os.pipe(), os.pipe()]
    child = os.fork()
    if child == 0:
        status = 99
        try:
            for number, (_, end) in enumerate(pipes, start=1):
                os.dup2(end, number)
            os.chdir(folder)
            CONDITIONS[condition](folder)
            from app.__main__ import main

            status = main(words)
            for stream in (sys.stdout, sys.stderr):
                stream.flush()
        except SystemExit as leaving:
            status = int(leaving.code or 0)
        except BaseException:  # noqa: BLE001 - told as what it is
            import traceback

            traceback.print_exc(file=sys.stdout)
        finally:
            os._exit(status)
    for _, end in pipes:
        os.close(end)
    out_text, err_text = _drained([pipes[0][0], pipes[1][0]], child)
    _, code = os.waitpid(child, 0)
    status = os.waitstatus_to_exitcode(code)
    return {"command": command, "condition": condition, "status": status, "out": out_text, "err": err_text}


def _drained(ends: list[int], child: int) -> list[str]:
    """What comes out of both ends until they are closed; a run that hangs is ended."""
    taken, open_ends, until = dict.fromkeys(ends, b""), list(ends), time.monotonic() + PATIENCE_S
    while open_ends:
        ready, _, _ = select.select(open_ends, [], [], 1.0)
        for end in ready:
            data = os.read(end, 1 << 16)
            taken[end] += data
            if not data:
                os.close(end)
                open_ends.remove(end)
        if time.monotonic() > until:
            os.kill(child, signal.SIGKILL)
            until += 10
    return [taken[end].decode("utf-8", "backslashreplace") for end in ends]


def all_imported() -> None:
    """Loads what the commands need, so that each run is quick."""
    import scipy.special  # noqa: F401


def every_run(folder: Path, conditions: list[str]) -> None:
    """Prints a line for each command under each condition."""
    all_imported()
    os.environ.pop("DISPLAY", None)
    os.environ.pop("WAYLAND_DISPLAY", None)
    for n, condition in enumerate(conditions):
        for command in LINES:
            own = folder / f"run{n}_{command}"
            shutil.copytree(folder / "files", own)
            out = own / "out"
            out.mkdir()
            print(json.dumps(run_one(command, condition, own, out)), flush=True)
            shutil.rmtree(own, ignore_errors=True)


if __name__ == "__main__":
    every_run(Path(sys.argv[1]), sys.argv[2:] or list(CONDITIONS))
