"""``twinslot continuity``, run in the same process: status, sentences, JSON, CSV, the plan."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from app.__main__ import main

HEAD = "from,to,ohms,side,read_on,by,note\n"
PINS = """net,slot,pin,part,part_pin,direction,note
D03,6,B22,U3 7400,3,out,
D03,7,B04,U7 74181,2,in,
GND,7,A36,,,supply,
"""


@pytest.fixture
def lists(tmp_path: Path) -> Path:
    rows = "6-B22,7-B04,0.2,{0},,,\n7-B04,7-A36,open,{0},,,\n"
    (tmp_path / "good.csv").write_text(HEAD + rows.format("good") + "7-B04,7-A36,2.1k,good,,,card in\n")
    (tmp_path / "suspect.csv").write_text(HEAD + rows.format("suspect"))
    (tmp_path / "pins.csv").write_text(PINS)
    return tmp_path


def _run(folder: Path, *more: str) -> int:
    sides = ["--good", str(folder / "good.csv"), "--suspect", str(folder / "suspect.csv")]
    return main(["continuity", *sides, *more])


def test_status_is_that_of_diff(lists: Path, capsys) -> None:
    assert _run(lists) == 0
    assert "No pair differs" in capsys.readouterr().out
    (lists / "suspect.csv").write_text(HEAD + "6-B22,7-B04,open,suspect,,,\n")
    assert _run(lists) == 1
    assert "open on suspect" in capsys.readouterr().out
    (lists / "suspect.csv").write_text(HEAD + "6-B22,7-B04,what,suspect,,,\n")
    assert _run(lists) == 2
    error = capsys.readouterr().err
    assert "suspect.csv, line 2, column 3: found 'what' as ohms" in error


def test_the_next_reading_and_where_the_three_lead(lists: Path, capsys) -> None:
    more = ("--pins", str(lists / "pins.csv"), "--net", "D03", "--to", "7-B04")
    assert _run(lists, *more) == 0
    out = capsys.readouterr().out
    assert "Next: With power off, measure 7-B04 to 7-A36 on suspect, with the card seated; good reads 2.1 kohm." in out
    assert "Power off for every ohm reading" in out
    with (lists / "suspect.csv").open("a") as file:
        file.write("7-B04,7-A36,3,suspect,,,card in\n")
    assert _run(lists, *more) == 1
    assert "something on the card of slot 7 may hold it" in capsys.readouterr().out


def test_what_is_to_be_measured_is_numbered_and_keeps_how_it_is_read(lists: Path, capsys) -> None:
    (lists / "good.csv").write_text(
        HEAD + "7-B04,7-A36,open,good,,,slot 7 empty\n7-B04,7-A36,2.1k,good,,,card in; red lead on B04\n"
    )
    (lists / "suspect.csv").write_text(HEAD + "7-B04,7-A36,,suspect,,,slot 7 empty\n")
    assert _run(lists) == 2
    out = capsys.readouterr().out
    assert "Cannot tell: no pair has been read on both sides yet, 2 to measure." in out
    assert "1  7-B04 to 7-A36; slot 7 empty; the other side reads open" in out
    assert "2  7-B04 to 7-A36; card in; red lead on B04; the other side reads 2.1 kohm" in out
    assert "Power off for every ohm reading" in out
    _run(lists, "--typed", "1=open", "2=3", "--keep", str(lists / "kept.csv"))
    rows = (lists / "kept.csv").read_text("utf-8").splitlines()
    assert "7-B04,7-A36,open,suspect,,,slot 7 empty" in rows
    assert "7-B04,7-A36,3,suspect,,,card in; red lead on B04" in rows


def test_json_and_csv_have_every_pair(lists: Path, capsys) -> None:
    out = lists / "pairs.csv"
    assert _run(lists, "--pins", str(lists / "pins.csv"), "--json", "-", "--csv", str(out)) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["counts"]["same"] == 2
    assert record["counts"]["to measure"] == 1
    opened = next(p for p in record["pairs"] if p["to"] == "7-B04" and not p["card_in"] and p["from"] == "7-A36")
    assert opened["good_ohms"] == "open"
    with out.open() as file:
        assert [row["verdict"] for row in csv.DictReader(file)] == ["to measure, card in", "same", "same"]


def test_the_plan_is_a_sheet_with_a_number_for_each_row(lists: Path, capsys) -> None:
    from io import BytesIO

    from pypdf import PdfReader

    plan = lists / "plan.pdf"
    assert _run(lists, "--plan", str(plan)) == 0
    pages = PdfReader(BytesIO(plan.read_bytes())).pages
    text = pages[0].extract_text()
    assert "POWER OFF" in text
    assert "7-A36" in text
    assert "2.1 kohm" in text
    assert "1 rows" not in text


def test_what_a_meter_wrote_is_taken_in_the_plans_order(lists: Path, capsys) -> None:
    (lists / "meter.csv").write_text("reading\n3.0\n")
    assert _run(lists, "--meter", str(lists / "meter.csv")) == 1
    assert "card in" in capsys.readouterr().out


def test_requests_that_cannot_be_met_are_told_in_one_sentence(lists: Path, capsys) -> None:
    assert _run(lists, "--net", "D03") == 2
    assert "no net 'D03'" in capsys.readouterr().err
    assert _run(lists, "--pins", str(lists / "pins.csv"), "--net", "D03", "--to", "elsewhere") == 2
    assert "is no pin" in capsys.readouterr().err
    assert _run(lists, "--slot", "3") == 2
    assert _run(lists, "--limit", "0") == 2
