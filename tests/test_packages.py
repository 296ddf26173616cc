"""How the packages hang together: what imports what, and what a built wheel holds."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from app import __version__

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("app", "tracecore", "demo_traces")

# Stands in front of everything else that finds modules and lets nothing of Qt through.
_WITHOUT_QT = """
import sys
class NoQt:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {"PySide6", "shiboken6", "pyqtgraph"}:
            raise ImportError(f"{name} is not to be had here")
sys.meta_path.insert(0, NoQt())
"""


def python(code: str, *, folder: Path = ROOT, path: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """Runs code in an interpreter of its own that finds our packages in ``path``."""
    environment = {**os.environ, "PYTHONPATH": str(path)}
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_without_qt_means_without_qt() -> None:
    assert python(_WITHOUT_QT + "import PySide6").returncode == 1


def test_tracecore_imports_without_qt() -> None:
    code = """
import importlib, pkgutil, tracecore
names = [found.name for found in pkgutil.walk_packages(tracecore.__path__, "tracecore.")]
for name in names:
    importlib.import_module(name)
print(len(names))
"""
    done = python(_WITHOUT_QT + code)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) >= 20


def test_a_comparison_runs_without_qt(tmp_path: Path) -> None:
    if not (ROOT / "demo_traces/__init__.py").exists():
        pytest.skip("demo_traces is not here yet")
    code = f"""
import sys
from pathlib import Path
from app.__main__ import main
from demo_traces import CASES
case = next(iter(CASES.values()))
def paths(files):
    return [str(Path(case.folder) / name) for name in ([files] if isinstance(files, (str, Path)) else files)]
sys.exit(main(["compare", "--good", *paths(case.good), "--suspect", *paths(case.suspect),
               "--sheet", *paths(case.sheet), "--json", {str(tmp_path / "found.json")!r}]))
"""
    done = python(_WITHOUT_QT + code, folder=tmp_path)
    assert done.returncode == 1, done.stdout + done.stderr
    assert json.loads((tmp_path / "found.json").read_text("utf-8"))


def test_help_imports_nothing_big() -> None:
    code = """
import sys
from app.__main__ import main
status = main(["--help"])
print(sorted({name.split(".")[0] for name in sys.modules} & {"numpy", "pandas", "scipy", "PySide6", "pyqtgraph"}))
sys.exit(status)
"""
    done = python(code)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "[]"


def _files(folder: Path) -> set[str]:
    """Everything that belongs to the project, by its path in it; a person's own matter is left out."""
    kept = (*PACKAGES, "tests", ".ci")
    found = [path for name in kept for path in (folder / name).rglob("*")]
    found += [path for path in folder.iterdir() if path.name in ("README.md", "DEVELOPERS.md", "pyproject.toml")]
    return {path.relative_to(folder).as_posix() for path in found if path.is_file() and "__pycache__" not in path.parts}


def _build(kind: str, source: Path, out: Path) -> Path:
    command = [sys.executable, "-m", "hatchling", "build", "--target", kind, "--directory", str(out)]
    done = subprocess.run(command, cwd=source, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (built,) = out.glob("*.whl" if kind == "wheel" else "*.tar.gz")
    return built


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The source distribution, built offline and taken out again."""
    folder = tmp_path_factory.mktemp("sdist")
    built = _build("sdist", ROOT, folder)
    with tarfile.open(built) as archive:
        # Python 3.11 before 3.11.4 knows no filters, later ones warn where none is given
        for member in archive.getmembers():
            if member.isfile():
                inside = archive.extractfile(member)
                assert inside is not None
                path = folder / member.name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(inside.read())
    return folder / built.name.removesuffix(".tar.gz")


@pytest.fixture(scope="module")
def wheel(source: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel, built as an installer does: of the source distribution."""
    return _build("wheel", source, tmp_path_factory.mktemp("wheel"))


def test_the_source_distribution_holds_every_file_of_the_project(source: Path) -> None:
    held = _files(source)
    assert held == _files(ROOT)
    assert {"app/LICENSE.txt", "app/CHANGES.md", "tests/test_packages.py", ".ci/run"} <= held


def test_the_wheel_says_who_made_it_and_under_which_licence(wheel: Path) -> None:
    archive = zipfile.ZipFile(wheel)
    (name,) = (n for n in archive.namelist() if n.endswith(".dist-info/METADATA"))
    metadata = archive.read(name).decode()
    for line in (f"Version: {__version__}", "License-Expression: MIT", "License-File: app/LICENSE.txt"):
        assert line in metadata.splitlines()
    assert f"## {__version__}" in archive.read("app/CHANGES.md").decode()


def test_the_wheel_holds_every_file_of_the_packages(wheel: Path) -> None:
    held = set(zipfile.ZipFile(wheel).namelist())
    for package in PACKAGES:
        files = [path for path in (ROOT / package).rglob("*") if path.is_file() and "__pycache__" not in path.parts]
        missing = {str(path.relative_to(ROOT).as_posix()) for path in files} - held
        assert not missing


def test_the_wheel_holds_nothing_else(wheel: Path) -> None:
    tops = {name.split("/")[0] for name in zipfile.ZipFile(wheel).namelist()}
    assert {top for top in tops if not top.endswith(".dist-info")} == set(PACKAGES)


def test_the_wheel_works_away_from_the_tree(wheel: Path, tmp_path: Path) -> None:
    # a pure wheel is a zip of what is to lie on the path
    zipfile.ZipFile(wheel).extractall(tmp_path / "installed")
    code = "import app, sys; print(app.__file__); from app.__main__ import main; sys.exit(main(['--help']))"
    done = python(code, folder=tmp_path, path=tmp_path / "installed")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(str(tmp_path))
    assert "compare" in done.stdout
