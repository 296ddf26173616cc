"""How the command line behaves as a process: pipes, colours, narrow terminals, interruptions, slow imports."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from app.__main__ import main
from app.cli import run as run_module
from app.cli.run import demo_request
from app.cli.terminal import HEADINGS, fit, print_comparison
from app.comparison_text import IN_FULL
from demo_traces import CASES
from tracecore.comparison import compare

ROOT = Path(__file__).resolve().parents[2]
SLOW = ("numpy", "pandas", "scipy", "PySide6", "pyqtgraph", "rich", "jinja2")


class Terminal(io.StringIO):
    """A stream that says it is a terminal; its width comes from COLUMNS."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


@pytest.fixture(scope="module")
def receiver():
    return compare(demo_request(CASES["receiver"]))


def test_help_imports_nothing_slow():
    code = (
        f"import sys; from app.__main__ import main; main(['--help']); print([m for m in {SLOW} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1] == "[]", done.stderr


def test_what_follows_from_one_fault_is_told_in_a_line_each():
    waits = compare(demo_request(CASES["waits"]))
    out = io.StringIO()
    print_comparison(waits, out)
    lines = out.getvalue().splitlines()
    further = waits.causes[IN_FULL:]
    assert further
    assert sum(line.startswith("   Probe next: ") for line in lines) == IN_FULL
    at = lines.index(next(line for line in lines if line.startswith("Further likely causes")))
    assert [line.split(".")[0] for line in lines[at + 1 : at + 1 + len(further)]] == [str(c.rank) for c in further]
    assert not lines[at + 1 + len(further)]


def test_piped_output_is_plain_and_unbroken(receiver):
    out = io.StringIO()
    print_comparison(receiver, out)
    text = out.getvalue()
    assert "\x1b" not in text
    assert all(line == line.rstrip() for line in text.splitlines())
    for sentence in (*receiver.causes[0].because, receiver.causes[0].probe_next):
        assert sentence in text


@pytest.mark.parametrize("columns", [30, 72, 110, 160])
def test_no_width_loses_a_word(receiver, columns, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(columns))
    monkeypatch.setenv("NO_COLOR", "1")
    out = Terminal()
    print_comparison(receiver, out)
    text = out.getvalue()
    assert "\x1b" not in text
    assert "…" not in text
    assert max(map(len, text.splitlines())) <= columns
    closed = "".join(text.split())
    for cause in receiver.causes:
        assert "".join(cause.probe_next.split()) in closed
    assert all(s.signal in text for s in receiver.signals)
    if columns >= 110:
        assert all(heading in text for heading in HEADINGS)


def test_a_terminal_with_colours_gets_them(receiver, monkeypatch):
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    out = Terminal()
    print_comparison(receiver, out)
    assert "\x1b[1m" in out.getvalue()


def test_letters_that_a_stream_cannot_carry_are_spelled_plainly():
    ascii_stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    assert fit("\u22121\u202f012 ±3 µs", ascii_stream) == "-1 012 +/-3 us"


def test_output_in_ascii_does_not_fail():
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    command = [sys.executable, "-m", "app", "check", str(CASES["contact"].good[0])]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.isascii()


@pytest.mark.skipif(sys.platform == "win32", reason="a closed pipe shows otherwise there")
def test_a_reader_that_goes_away_is_no_traceback():
    command = [sys.executable, "-m", "app", "check", str(CASES["contact"].good[0])]
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(command, cwd=ROOT, stdout=writing, stderr=subprocess.PIPE, check=False)
    os.close(writing)
    assert done.returncode == run_module.BROKEN_PIPE
    assert done.stderr == b""


def test_an_interruption_is_no_traceback(monkeypatch, capsys):
    def interrupted(arguments: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(run_module, "_dispatch", interrupted)
    assert main(["demo", "--list"]) == 130
    assert capsys.readouterr().err == ""
