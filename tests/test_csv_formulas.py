"""No cell of any CSV that the program writes begins a formula, and what it reads back is what it wrote.

The characters are those that common spreadsheets take for the start of a formula (common practice), a number aside.
"""

from __future__ import annotations

import csv
import io
import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.cli.run import run
from app.report.divergences import divergences_csv
from app.report.lined_up import write_lined_up
from app.soak.record import Record
from app.soak.soak import News
from tests.cli.every_command import fill, line
from tests.soak.small_captures import capture_text
from tracecore.circuit.continuity.readings import Reading, parse_continuity, write_continuity
from tracecore.circuit.pin_list import Pinned, parse_pin_list, write_pin_list
from tracecore.circuit.probe_sheet import Probe, parse_probe_sheet, read_probe_sheet, write_probe_sheet
from tracecore.comparison import CompareRequest, compare
from tracecore.csv_cells import csv_text, guarded, unguarded
from tracecore.export import export_capture
from tracecore.readers import read_capture
from tracecore.repeats.table import CaptureOutcome

ROOT = Path(__file__).parents[1]
BEGINNINGS = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
WRITERS = re.compile(r"csv\.(writer|DictWriter)\(|\.to_csv\(|savetxt\(")
NAMES = ("=1+1", "-WAIT", "+5V", "@SUM(A1)", "'=2", "''-x", "\uff1d9", "plain")


def check(text: str) -> int:
    """How many cells of words there are; fails where one begins a formula."""
    delimited = csv.reader(io.StringIO(text, newline=""))
    cells = [cell for row in delimited for cell in row if cell]
    words = []
    for cell in cells:
        try:
            Fraction(cell)
        except ValueError:
            words.append(cell)
    assert not [cell for cell in words if cell[0] in BEGINNINGS]
    return len(words)


@given(st.text())
def test_words_come_back_as_they_were(text: str) -> None:
    assert unguarded(guarded(text)) == text
    check(csv_text(["a"], [[text]]))


def test_lists_come_back_as_they_were() -> None:
    probes = tuple(Probe(name, name, slot=name, pin=name, note=name) for name in NAMES)
    sheet = write_probe_sheet(probes)
    assert check(sheet) > 40
    assert parse_probe_sheet(sheet).probes == probes
    pins = tuple(Pinned(name, "7", f"A{n}", note=name) for n, name in enumerate(NAMES))
    text = write_pin_list(pins)
    check(text)
    assert [row.net for row in parse_pin_list(text).rows] == list(NAMES)
    readings = [Reading(f"7-A{n}", "7-B1", 2.0, "good", by=name, note=name) for n, name in enumerate(NAMES)]
    text = write_continuity(readings)
    check(text)
    assert [row.note for row in parse_continuity(text).readings] == list(NAMES)


def test_the_record_of_a_watch(tmp_path: Path) -> None:
    record = Record(tmp_path / "record.csv", "0")
    for name in NAMES:
        outcome = CaptureOutcome(name, frozenset(NAMES), name, 3, frozenset(NAMES))
        record.add(News(tmp_path / name, "2031-01-01T00:00:00", "diverges", "", outcome))
    assert check(record.path.read_bytes().decode()) > 50


def test_every_command_that_writes_csv(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    fill(tmp_path)
    names = dict(zip(("B0", "B1", "B2", "B3", "SEL", "SUM"), NAMES, strict=False))

    def renamed(text: str) -> str:
        first, rate, heading, rows = text.split("\n", 3)
        return "\n".join([first, rate, ",".join(names.get(name, name) for name in heading.split(",")), rows])

    (tmp_path / "good.csv").write_text(renamed(capture_text()), "utf-8")
    (tmp_path / "suspect.csv").write_text(renamed(capture_text(5, wrong=True)), "utf-8")
    rows = [f"{name},{name},=7,@A0{n},74" for n, name in enumerate(("CLK", *NAMES))]
    (tmp_path / "sheet.csv").write_text("channel,signal,slot,pin,family\n" + "\n".join(rows), "utf-8")
    for name in ("good_v.csv", "suspect_v.csv"):
        text = (tmp_path / name).read_text("utf-8")
        text = text.replace("B0 (V)", "=1+1 (V)").replace(",0.2", ",1.4")
        (tmp_path / name).write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)
    out = tmp_path / "out"
    out.mkdir()
    for command in ("levels", "timing"):
        run([*line(command, out), "--sheet", "sheet.csv"])
    run(line("continuity", out))
    good, suspect = read_capture("good.csv"), read_capture("suspect.csv")
    found = compare(CompareRequest((good,), (suspect,), read_probe_sheet("sheet.csv"), clock="CLK"))
    write_lined_up(found, out / "pair.csv")
    (out / "divergences.csv").write_text(divergences_csv(found), "utf-8")
    checked = {path.name: check(path.read_bytes().decode()) for path in sorted(out.glob("*.csv"))}
    assert sorted(checked) == ["divergences.csv", "levels.csv", "pair.csv", "pairs.csv", "timing.csv"]
    assert min(checked.values()) > 5, checked
    assert "'@SUM(A1)" in (out / "timing.csv").read_text("utf-8")
    back = read_capture(out / "pair.csv")
    assert {f"good.{unguarded(name)}" for name in names.values()} <= set(back.channels)
    export_capture(good, out / "good.csv", "rows")
    assert set(read_capture(out / "good.csv").channels) == set(good.channels)
    check((out / "good.csv").read_text("utf-8"))


def test_all_csv_is_written_by_one_function() -> None:
    """A writer of its own would be forgotten here; the record of a watch alone has one, and is tried above."""
    found = {
        path.relative_to(ROOT).as_posix()
        for path in (*ROOT.glob("app/**/*.py"), *ROOT.glob("tracecore/**/*.py"))
        if WRITERS.search(path.read_text("utf-8"))
    }
    assert found == {"tracecore/csv_cells.py", "app/soak/record.py"}
