"""Completion in a shell, made from the parser; the version."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from app import __version__
from app.__main__ import main
from app.cli.arguments import parser


def test_the_version_is_told(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"twinslot {__version__}\n"


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_every_command_is_completed(shell, capsys):
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    commands = parser()._subparsers._group_actions[0].choices
    assert {"compare", "check", "demo", "report", "completion"} <= set(commands)
    assert all(name in script for name in commands)


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
@pytest.mark.parametrize(
    ("typed", "wanted"),
    [("com", {"compare", "completion"}), ("check --wor", {"--word-base"}), ("compare --edge r", {"rising"})],
)
def test_bash_completes_what_is_typed(typed, wanted, capsys, tmp_path: Path):
    main(["completion", "bash"])
    script = tmp_path / "twinslot.bash"
    script.write_text(capsys.readouterr().out)
    words = ["twinslot", *typed.split()]
    ask = f"""
source {script}
COMP_WORDS=({" ".join(words)}); COMP_CWORD={len(words) - 1}
_shtab_twinslot; printf '%s\\n' "${{COMPREPLY[@]}}"
"""
    done = subprocess.run(["bash", "-c", ask], capture_output=True, text=True, check=False)
    assert set(done.stdout.split()) == wanted, done.stderr
