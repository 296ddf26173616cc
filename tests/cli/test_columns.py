"""What is said of single columns on the command line, and kept with a capture in its case."""

from __future__ import annotations

from app.__main__ import main
from app.case.read_settings import read_settings_of
from app.case.shelf import Shelf
from app.case.store import CaseStore
from tracecore.readers.plan.column_choice import parse_choice

SCOPE = "CH1 (V),T (us),Q\n" + "".join(f"{0.02 + 0.3 * (i % 16 // 8):.2f},{i}.0,{i % 32 // 16}\n" for i in range(256))
"""Volts that a 10:1 probe divided, the time in the second column."""


def run(*words: str) -> int:
    try:
        return main(list(words)) or 0
    except SystemExit as stop:
        return int(stop.code or 0)


def test_check_takes_columns_as_they_are_said(tmp_path, capsys):
    path = tmp_path / "bench.csv"
    path.write_text(SCOPE, "utf-8")
    said = ("--column", "T=time us", "--column", "CH1=volts x10")
    assert run("check", str(path), *said) == 0
    told = capsys.readouterr().out
    assert "scope columns · 1 MHz · 256 µs · 2 channels" in told
    assert "Clock CH1 62.5 kHz" in told


def test_a_choice_that_says_nothing_and_a_column_that_is_not_there_are_told_in_a_sentence(tmp_path, capsys):
    path = tmp_path / "bench.csv"
    path.write_text(SCOPE, "utf-8")
    assert run("check", str(path), "--column", "T=parsec") == 2
    assert "column 'T': found 'parsec'" in capsys.readouterr().err
    assert run("check", str(path), "--column", "volts") == 2
    assert "names no column" in capsys.readouterr().err
    assert run("check", str(path), "--column", "CH9=volts") == 2
    assert "no column 'CH9'; expected one of: " in capsys.readouterr().err


def test_a_case_keeps_what_was_said_and_reads_the_file_so_again(tmp_path, capsys):
    path, case = tmp_path / "bench.csv", tmp_path / "a.twinslot"
    path.write_text(SCOPE, "utf-8")
    assert run("open", str(case), "--title", "Probe of 10:1") == 0
    said = ("--column", "T=time us", "--column", "CH1=volts x10", "--column", "Q=leave out")
    assert run("attach", str(case), str(path), "--side", "good", *said) == 0
    path.unlink()
    store = CaseStore.open(case)
    try:
        (held,) = store.read().good.captures
        assert dict(read_settings_of(held).columns) == {"T": "time us", "CH1": "volts x10", "Q": "leave out"}
        capture = Shelf(store).load(held)
    finally:
        store.close()
    assert capture.channels == ("CH1",)
    assert abs(float(capture.analog["CH1"].volts.max()) - 3.2) < 1e-5
    assert parse_choice("volts x10").factor == 10
