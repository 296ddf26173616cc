"""Nothing that is not known to agree ends with status 0, and no error with status 1."""

from __future__ import annotations

import csv
import gzip
import io
from dataclasses import replace
from pathlib import Path

import pytest

from app.case.changes import AddCaptures
from app.case.shelf import hold
from app.case.store import CaseStore
from app.cli.run import run
from demo_traces import CASES
from tests.notices.recipes import RECIPES
from tracecore.readers import read_capture

CASE = CASES["receiver"]
GOOD, SUSPECT, SHEET = (str(path) for path in (CASE.good[0], CASE.suspect[0], CASE.sheet))

NEVER_ZERO = {
    "no_lineup": 2,
    "no_clock": 1,
    "clock_stops": 1,
    "good_clock_stops": 2,
    "too_little_compared": 2,
    "slips": 2,
    "capture_not_compared": 2,
    "undecided": 2,
    "other_program": 2,
    "margin_short": 2,
    "missed_states": 2,
    "contents_differ": 2,
    "never_seen": 1,
    "swapped_leads": 1,
}


@pytest.mark.parametrize("code", NEVER_ZERO)
def test_what_is_in_doubt_is_no_agreement(code: str) -> None:
    assert RECIPES[code]().outcome.exit_status == NEVER_ZERO[code]


def _rows(path: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(gzip.decompress(Path(path).read_bytes()).decode())))


@pytest.mark.parametrize("level", ["0", "1"])
def test_a_board_that_is_dead_from_the_start_diverges(
    level: str, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """All lines but the clock stand still, as in a board that is held in reset."""
    rows = _rows(SUSPECT)
    at = next(i for i, row in enumerate(rows) if row and row[-1] in ("0", "1"))
    clock = rows[at - 1].index("MCLK") if "MCLK" in rows[at - 1] else 0
    dead = [*rows[:at], *([cell if i == clock else level for i, cell in enumerate(row)] for row in rows[at:])]
    path = tmp_path / "dead.csv"
    with path.open("w", newline="") as file:
        csv.writer(file).writerows(dead)
    assert run(["compare", "--good", GOOD, "--suspect", str(path), "--sheet", SHEET]) != 0
    assert "No divergence" not in capsys.readouterr().out


@pytest.mark.parametrize(
    "words",
    [
        ("compare", "--good", GOOD, "--suspect", SUSPECT),
        ("check", GOOD),
        ("log", "case.twinslot"),
        ("soak", ".", "--good", GOOD),
    ],
)
def test_an_unforeseen_error_is_trouble_and_one_sentence(
    words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    def fails(_arguments: object) -> int:
        raise KeyError("no such thing")

    monkeypatch.setattr("app.cli.run._dispatch", fails)
    assert run(list(words)) == 2
    heard = capsys.readouterr().err
    assert "KeyError" in heard
    assert "Traceback" not in heard


def _case(tmp_path: Path) -> str:
    path = tmp_path / "one.twinslot"
    store = CaseStore.open(path, make=True)
    case = AddCaptures("good", (hold(read_capture(GOOD)),)).applied(store.read())
    store.keep("add captures", "T", replace(case).with_settings(family="74LS", clock="MCLK", tolerance_ps=200_000))
    store.close()
    return str(path)


def test_a_soak_refuses_an_option_that_clashes_with_its_case(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    landing = tmp_path / "landing"
    landing.mkdir()
    words = ["soak", str(landing), "--linked", "--case", _case(tmp_path)]
    assert run([*words, "--family", "74S"]) == 2
    assert "--family says 74S, but" in capsys.readouterr().err
    assert run([*words, "--offset", "3"]) == 2
    assert "--offset holds for one capture only" in capsys.readouterr().err


def test_a_soak_that_compares_nothing_clears_nothing(tmp_path: Path) -> None:
    landing = tmp_path / "landing"
    landing.mkdir()
    assert run(["soak", str(landing), "--linked", "--case", _case(tmp_path), "--stop-after", "100 ms"]) == 2
