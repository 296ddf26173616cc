"""The start script: what it runs, when it sets up again, what it says on a machine that lacks something."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from app import __version__, start

REPOSITORY = Path(__file__).resolve().parents[2]


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of what the stamp depends on, with an environment that looks whole."""
    for name in ("pyproject.toml", "app/locked.txt", "app/locked_tests.txt", "app/start.py"):
        target = tmp_path / name
        target.parent.mkdir(exist_ok=True)
        target.write_bytes((REPOSITORY / name).read_bytes())
    monkeypatch.setattr(start, "ROOT", tmp_path)
    monkeypatch.setattr(start, "VENV", tmp_path / "our tools" / ".venv")
    start.venv_python().parent.mkdir(parents=True)
    start.venv_python().touch()
    return tmp_path


def test_only_the_standard_library_is_imported() -> None:
    tree = ast.parse((REPOSITORY / "app/start.py").read_text("utf-8"))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in names} <= sys.stdlib_module_names


def test_an_old_python_can_still_read_the_script() -> None:
    ast.parse((REPOSITORY / "app/start.py").read_text("utf-8"), feature_version=(3, 7))


@pytest.mark.parametrize("version", [(3, 8), (3, 10), (3, 14)])
def test_wrong_python_is_named_with_what_to_do(version: tuple[int, int]) -> None:
    with pytest.raises(start.CannotStart, match=rf"Python {version[0]}\.{version[1]}, and .* needs 3\.11"):
        start.check_python(version)


@pytest.mark.parametrize("version", [(3, 11), (3, 12), (3, 13)])
def test_right_python_passes(version: tuple[int, int]) -> None:
    start.check_python(version)


def test_no_arguments_open_the_demo_or_write_its_report(capsys: pytest.CaptureFixture[str]) -> None:
    assert start.command_for([], display=True)[1:] == ["-m", "app", "demo"]
    assert start.command_for([], display=False)[1:] == ["-m", "app", "demo"]
    assert "report is written" in capsys.readouterr().out


def test_test_means_pytest_and_passes_the_rest_on() -> None:
    assert start.command_for(["test", "-k", "clock"], display=False)[1:] == [
        "-m",
        "pytest",
        *start.TWO_AT_ONCE,
        "-k",
        "clock",
    ]


def test_other_arguments_go_to_the_program() -> None:
    assert start.command_for(["check", "a.csv"], display=False)[1:] == ["-m", "app", "check", "a.csv"]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems always have a display")
def test_display_is_an_x_server_or_wayland() -> None:
    assert start.has_display({"DISPLAY": ":0"})
    assert start.has_display({"WAYLAND_DISPLAY": "wayland-0"})
    assert not start.has_display({"DISPLAY": ""})


@pytest.mark.skipif(sys.platform == "win32", reason="a command of another kind there")
def test_the_set_up_makes_a_command_that_works_anywhere(project: Path, tmp_path: Path) -> None:
    # an interpreter in a folder with a blank, and a folder that bears the program's name where it is typed
    start.venv_python().unlink()
    start.venv_python().symlink_to(sys.executable)
    start.write_command()
    (tmp_path / "elsewhere" / "app").mkdir(parents=True)
    (tmp_path / "elsewhere" / "app" / "__main__.py").write_text("print('not this')")
    done = subprocess.run(
        [str(start.venv_command()), "--version"],
        cwd=tmp_path / "elsewhere",
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == f"twinslot {__version__}\n", done.stderr


def test_a_set_up_for_tests_also_serves_the_program(project: Path) -> None:
    start.write_stamp("test")
    assert start.is_ready("test")
    assert start.is_ready("run")


def test_a_set_up_for_the_program_does_not_serve_the_tests(project: Path) -> None:
    start.write_stamp("run")
    assert start.is_ready("run")
    assert not start.is_ready("test")


@pytest.mark.parametrize("name", ["pyproject.toml", "app/locked.txt", "app/start.py"])
def test_a_changed_file_means_setting_up_again(project: Path, name: str) -> None:
    start.write_stamp("run")
    with (project / name).open("a") as stream:
        stream.write("# changed\n")
    assert not start.is_ready("run")


def test_a_set_up_that_was_cut_short_is_done_again(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    monkeypatch.setattr(start, "install_system_packages", lambda: done.append("system"))
    monkeypatch.setattr(start, "venv_works", lambda: True)
    monkeypatch.setattr(start, "write_path_file", lambda: done.append("path"))

    def make(command: list[str], complaint: str) -> None:
        assert command[1:3] == ["-m", "venv"]
        start.venv_python().parent.mkdir(parents=True)
        start.venv_python().touch()
        done.append("environment")

    monkeypatch.setattr(start, "run_quietly", make)

    def cut_short(purpose: str) -> None:
        raise start.CannotStart("the network went away")

    start.write_stamp("run")
    start.write_stamp("test")
    (project / "pyproject.toml").write_text("changed")
    monkeypatch.setattr(start, "install_locked", cut_short)
    with pytest.raises(start.CannotStart):
        start.prepare("run")
    assert not start.is_ready("run")
    assert not start.stamp_path("test").exists()

    monkeypatch.setattr(start, "install_locked", lambda purpose: done.append("packages"))
    start.prepare("run")
    assert done == ["system", "system", "environment", "packages", "path"]
    assert start.is_ready("run")
    start.prepare("run")
    assert len(done) == 5, "a second start skips everything"


def test_a_broken_environment_is_not_taken_for_a_working_one(project: Path) -> None:
    start.venv_python().write_text("not an interpreter")
    start.venv_python().chmod(0o755)
    assert not start.venv_works()


def test_who_is_not_root_is_told_the_line_to_type(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start, "missing_packages", lambda: ["python3-venv", "libgl1"])
    monkeypatch.setattr(start.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(start.os, "geteuid", lambda: 1000, raising=False)
    with pytest.raises(start.CannotStart, match="sudo apt-get update && sudo apt-get install -y python3-venv libgl1"):
        start.install_system_packages()


def test_root_installs_after_updating_the_lists(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[list[str]] = []
    monkeypatch.setattr(start, "missing_packages", lambda: ["libgl1"])
    monkeypatch.setattr(start.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(start.os, "geteuid", lambda: 0, raising=False)
    monkeypatch.setattr(start, "run_quietly", lambda command, complaint, environment=None: ran.append(command))
    start.install_system_packages()
    assert [command[:2] for command in ran] == [["apt-get", "update"], ["apt-get", "install"]]
    assert ran[1][-1] == "libgl1"


def test_output_of_a_failed_command_is_shown(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(start.CannotStart, match="It went wrong"):
        start.run_quietly([sys.executable, "-c", "print('the reason'); raise SystemExit(3)"], "It went wrong")
    assert "the reason" in capfd.readouterr().err


def test_output_of_a_good_command_is_hidden(capfd: pytest.CaptureFixture[str]) -> None:
    start.run_quietly([sys.executable, "-c", "print('chatter')"], "It went wrong")
    assert capfd.readouterr().out == ""


def _pins(name: str) -> dict[str, str]:
    pins = {}
    for line in (REPOSITORY / "app" / name).read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            requirement = Requirement(line)
            (pin,) = requirement.specifier
            assert pin.operator == "==", line
            pins[requirement.name.lower().replace("_", "-")] = pin.version
    return pins


@pytest.mark.parametrize("python", ["3.11", "3.12", "3.13"])
def test_locks_satisfy_what_pyproject_asks_for(python: str) -> None:
    import tomllib

    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text("utf-8"))["project"]
    run, extra = _pins("locked.txt"), _pins("locked_tests.txt")
    assert not run.keys() & extra.keys(), "a package is locked in one place"
    everything = {**run, **extra}
    asked = [(line, run) for line in project["dependencies"]]
    asked += [(line, everything) for lines in project["optional-dependencies"].values() for line in lines]
    for line, pins in asked:
        requirement = Requirement(line)
        if requirement.marker is None or requirement.marker.evaluate({"python_version": python}):
            assert requirement.specifier.contains(pins[requirement.name.lower().replace("_", "-")]), line
