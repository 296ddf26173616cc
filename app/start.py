"""Sets up everything this project needs and starts it; standard library only.

    python3 app/start.py               set up (first time: a few minutes), then open the window on a demo case
    python3 app/start.py test [...]    set up, then run the whole test suite; the rest goes to pytest
    python3 app/start.py ARGUMENTS     set up, then python -m app ARGUMENTS

The set-up also makes the command .venv/bin/twinslot (.venv\\Scripts\twinslot on Windows).

Everything is put into the folder .venv beside this project. A stamp in it says which set-up it holds, so a second
start skips all of that; the stamp is written last, so a set-up that was cut short is done again.
On Debian and its relatives missing system packages are installed when run as root, and named otherwise.
"""

import ctypes
import ctypes.util
import hashlib
import os
import shlex
import shutil
import subprocess
import sys
import sysconfig
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from typing import Any

# Annotations that an older Python cannot evaluate are quoted: it shall get as far as saying that it is too old.
OLDEST, TOO_NEW = (3, 11), (3, 14)
ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
LOCKS = {"run": ["app/locked.txt"], "test": ["app/locked.txt", "app/locked_tests.txt"]}
WINDOWS = os.name == "nt"
LINUX = sys.platform.startswith("linux")

# Shared library that Qt's widgets, or the plug-in that talks to an X server, load -> Debian package that brings it.
QT_LIBRARIES = {
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libX11-xcb.so.1": "libx11-xcb1",
}
# Without these only the plug-in for an X server fails; tests, reports and pictures work.
ONLY_FOR_X = {package for package in QT_LIBRARIES.values() if package.startswith(("libxcb", "libx11"))}
FONT_FOLDERS = ("/usr/share/fonts", "/usr/local/share/fonts", "~/.fonts", "~/.local/share/fonts")


class CannotStart(Exception):
    """What is wrong and what to do, in a sentence or two."""


def main(arguments: "list[str]") -> int:
    """Sets up, then becomes the program (or pytest); returns its exit status."""
    try:
        check_python(sys.version_info)
        purpose = "test" if arguments[:1] == ["test"] else "run"
        prepare(purpose)
    except CannotStart as trouble:
        print(f"start.py: {trouble}", file=sys.stderr)
        return 2
    except OSError as trouble:
        where = f"{trouble.filename}: " if trouble.filename else ""
        print(f"start.py: {where}{trouble.strerror}. Check the disk and its rights, then start again.", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("\nStopped. The next start goes on from here.", file=sys.stderr)
        return 130
    return hand_over(command_for(arguments, has_display(os.environ)))


def check_python(version: "Sequence[Any]") -> None:
    """Raises CannotStart on a Python this project does not run on."""
    if not OLDEST <= tuple(version[:2]) < TOO_NEW:
        raise CannotStart(
            f"this is Python {version[0]}.{version[1]}, and Twinslot needs 3.11, 3.12 or 3.13. "
            "Install one of these and start again with it, for example: python3.12 app/start.py"
        )


def has_display(environment: "Mapping[str, str]") -> bool:
    """False on a Linux without X server or Wayland; other systems always have one."""
    return not LINUX or bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))


TWO_AT_ONCE = ("-n", "2", "--dist", "loadfile")
"""The suite is meant for two cores; ``-n 0`` after it runs one test after the other. The tests of one file stay
together, so that what they share is made once."""


def command_for(arguments: "list[str]", display: bool) -> "list[str]":
    """What is run in the end, as a list of words."""
    if arguments[:1] == ["test"]:
        return [str(venv_python()), "-m", "pytest", *TWO_AT_ONCE, *arguments[1:]]
    if arguments:
        return [str(venv_python()), "-m", "app", *arguments]
    if not display:
        print("No display here, so no window: the demo case is compared, and its report is written.", flush=True)
    return [str(venv_python()), "-m", "app", "demo"]


def hand_over(command: "list[str]") -> int:
    """Runs the command in its own process and returns its exit status."""
    environment = dict(os.environ)
    # pytest must find the tests from anywhere; the program keeps the caller's folder for the files it is given
    folder = ROOT if "pytest" in command[:3] else None
    try:
        return subprocess.call(command, cwd=folder, env=environment)
    except KeyboardInterrupt:
        return 130


def prepare(purpose: str) -> None:
    """Makes .venv hold what the purpose needs; does nothing when its stamp says so already."""
    if is_ready(purpose):
        return
    began = time.monotonic()
    print(f"Setting up Twinslot in {VENV}", flush=True)
    install_system_packages()
    make_venv()
    install_locked(purpose)
    write_path_file()
    write_command()
    write_stamp(purpose)
    print(f"Ready after {time.monotonic() - began:.0f} s.", flush=True)


def stamp_path(purpose: str) -> Path:
    """Where the stamp of a purpose lies."""
    return VENV / f"twinslot-{purpose}.stamp"


def wanted_stamp(purpose: str) -> str:
    """A hash of everything the set-up depends on: locks, pyproject.toml, this Python and where the project lies."""
    digest = hashlib.sha256()
    for name in [*LOCKS[purpose], "pyproject.toml", "app/start.py"]:
        digest.update((ROOT / name).read_bytes())
    digest.update(f"{sys.version_info[:3]} {sys.platform} {ROOT}".encode())
    return digest.hexdigest()


def is_ready(purpose: str) -> bool:
    """True when .venv was set up for this purpose (a set-up for the tests also serves the program)."""
    for candidate in {"run": ("run", "test"), "test": ("test",)}[purpose]:
        stamp = stamp_path(candidate)
        if stamp.is_file() and stamp.read_text("ascii", "replace") == wanted_stamp(candidate):
            return venv_python().exists()
    return False


def write_stamp(purpose: str) -> None:
    """Says that the set-up is whole; replaced at one stroke, so that half a stamp never lies there."""
    fresh = stamp_path(purpose).with_suffix(".new")
    fresh.write_text(wanted_stamp(purpose), "ascii")
    fresh.replace(stamp_path(purpose))
    unfinished().unlink(missing_ok=True)


def venv_python() -> Path:
    """The interpreter inside .venv."""
    return VENV / ("Scripts/python.exe" if WINDOWS else "bin/python")


def make_venv() -> None:
    """Creates .venv, or does it afresh where it is broken or belongs to another Python."""
    for purpose in LOCKS:
        stamp_path(purpose).unlink(missing_ok=True)
    if venv_works() and not unfinished().exists():
        unfinished().touch()
        return
    step("making the environment")
    if VENV.exists():
        shutil.rmtree(VENV)
    run_quietly([sys.executable, "-m", "venv", str(VENV)], "The environment could not be made")
    unfinished().touch()


def unfinished() -> Path:
    """Lies there while packages are installed: pip takes a package it was killed over for a whole one."""
    return VENV / "twinslot-unfinished"


def venv_works() -> bool:
    """True when .venv runs the same Python as this script and has pip."""
    if not venv_python().exists():
        return False
    ask = "import sys, pip; print(*sys.version_info[:2])"
    try:
        answer = subprocess.run([str(venv_python()), "-c", ask], capture_output=True, text=True, check=False)
    except OSError:
        # half a file, or a link to a Python that is gone
        return False
    return answer.returncode == 0 and answer.stdout.split() == [str(part) for part in sys.version_info[:2]]


def install_locked(purpose: str) -> None:
    """Installs the exact versions of the lock files with pip."""
    step("fetching and installing packages (about 450 MB; this takes a while the first time)")
    command = [str(venv_python()), "-m", "pip", "install", "--disable-pip-version-check", "--no-input"]
    for lock in LOCKS[purpose]:
        command += ["-r", str(ROOT / lock)]
    # The locks name everything, so pip need not go looking for dependencies.
    command += ["--no-deps", "--only-binary", ":all:"]
    run_quietly(command, "Packages could not be installed; check the network and start again")


def write_path_file() -> None:
    """Lets the environment import the packages of this folder, as an editable installation would."""
    scheme = {"base": str(VENV), "platbase": str(VENV)}
    folder = Path(sysconfig.get_path("purelib", "venv", scheme))
    (folder / "twinslot.pth").write_text(f"{ROOT}\n", "utf-8")


def venv_command() -> Path:
    """The program as one word to type, beside the interpreter."""
    return venv_python().with_name("twinslot.cmd" if WINDOWS else "twinslot")


def write_command() -> None:
    """Makes that word; -P keeps a folder named app, wherever it is typed, from being taken for the program."""
    if WINDOWS:
        venv_command().write_text('@"%~dp0python.exe" -P -m app %*\n', "utf-8")
        return
    venv_command().write_text(f'#!/bin/sh\nexec {shlex.quote(str(venv_python()))} -P -m app "$@"\n', "utf-8")
    venv_command().chmod(0o755)


def install_system_packages() -> None:
    """On a Linux with apt-get: installs what is missing when root, otherwise says what to type."""
    missing = missing_packages()
    if not missing:
        return
    if not shutil.which("apt-get"):
        if "python3-venv" in missing:
            raise CannotStart("this Python has no venv module with ensurepip. Install the one of your system.")
        print(f"  Note: these seem to be missing, named as Debian does: {' '.join(missing)}", flush=True)
        return
    if os.geteuid() != 0:
        line = f"sudo apt-get update && sudo apt-get install -y {' '.join(missing)}"
        if set(missing) <= ONLY_FOR_X:
            print(f"  Note: the window may need more system packages. If it does not open, type:\n  {line}", flush=True)
            return
        raise CannotStart(f"system packages are missing. Type this line, then start again:\n  {line}")
    step(f"installing system packages: {' '.join(missing)}")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    run_quietly(["apt-get", "update"], "apt-get could not update its lists", environment)
    install = ["apt-get", "install", "-y", "--no-install-recommends", *missing]
    run_quietly(install, "System packages could not be installed", environment)


def missing_packages() -> "list[str]":
    """Debian packages whose matter is not on this machine; empty on other systems than Linux."""
    if not LINUX:
        return []
    missing = [] if has_ensurepip() else ["python3-venv"]
    missing += [package for library, package in QT_LIBRARIES.items() if not can_load(library)]
    if not any(has_fonts(Path(folder).expanduser()) for folder in FONT_FOLDERS):
        missing.append("fonts-dejavu-core")
    return missing


def has_ensurepip() -> bool:
    """Debian ships venv without ensurepip, so that making an environment fails half-way."""
    try:
        import ensurepip
        import venv
    except ImportError:
        return False
    return bool(ensurepip.version() and venv)


def can_load(library: str) -> bool:
    """True when the dynamic loader finds the library."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def has_fonts(folder: Path) -> bool:
    """True when a font that Qt can draw with lies in the folder or below."""
    return any(name.lower().endswith((".ttf", ".otf", ".ttc")) for _, _, names in os.walk(folder) for name in names)


def step(text: str) -> None:
    """One line of progress."""
    print(f"  {text} ...", flush=True)


def run_quietly(command: "list[str]", complaint: str, environment: "Mapping[str, str] | None" = None) -> None:
    """Runs a command and keeps its output for the case that it fails; a dot every few seconds shows life."""
    process = subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=environment
    )
    dots = 0
    while True:
        try:
            output, _ = process.communicate(timeout=5)
            break
        except subprocess.TimeoutExpired:
            dots += 1
            print("  ." if dots == 1 else ".", end="", flush=True)
        except BaseException:
            process.kill()
            raise
    if dots:
        print(flush=True)
    if process.returncode:
        print(output.decode("utf-8", "replace"), file=sys.stderr)
        raise CannotStart(f"{complaint} (the output is above).")


if __name__ == "__main__":
    # running as a script puts app/ first on the path; nothing of it may stand in for the standard library
    sys.path[:] = [entry for entry in sys.path if Path(entry or ".").resolve() != ROOT / "app"]
    sys.exit(main(sys.argv[1:]))
