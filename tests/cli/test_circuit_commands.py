"""Readings typed by number, lists that learn, causes beside readings, two clips pin by pin: on the command line."""

from __future__ import annotations

import json
from pathlib import Path

from app.__main__ import main
from demo_traces import CASES
from tests.circuit.parts.drawn_chip import Fault
from tests.cli.test_part_command import _clip
from tracecore.circuit.continuity.readings import read_continuity
from tracecore.circuit.pin_list import read_pin_list

HELD = CASES["held"].folder


def test_three_readings_typed_by_number_lead_to_the_slot(tmp_path: Path, capsys) -> None:
    both = ["--good", str(HELD / "readings.csv"), "--suspect", str(HELD / "readings.csv")]
    net = ["--pins", str(HELD / "pins.csv"), "--net", "D01", "--to", "7-B02"]
    # rows as the sheet numbers them: what good reads and suspect lacks
    command = ["continuity", *both, *net, "--typed", "1=0.2", "3=open", "4=3", "--keep", str(tmp_path / "all.csv")]
    assert main(command) == 1
    assert "something on the card of slot 7 may hold it" in capsys.readouterr().out
    kept = read_continuity(tmp_path / "all.csv")
    assert [r.ohms for r in kept.of("suspect") if r.ohms is not None] == [0.2, float("inf"), 3.0]
    assert main(["continuity", *both, "--typed", "x=1"]) == 2
    assert "no number and reading" in capsys.readouterr().err
    assert main(["continuity", *both, "--typed", "40=1"]) == 2
    assert "a number from 1 to 4" in capsys.readouterr().err


def test_compare_sets_readings_beside_the_likely_causes(tmp_path: Path, capsys) -> None:
    text = (HELD / "readings.csv").read_text() + "6-B20,7-B02,open,suspect,,,\n"
    (tmp_path / "readings.csv").write_text(text)
    sides = ["--good", str(HELD / "good.csv.gz"), "--suspect", str(HELD / "suspect.csv.gz")]
    more = ["--sheet", str(HELD / "sheet.csv"), "--clock", "MCLK", "--pins", str(HELD / "pins.csv")]
    assert main(["compare", *sides, *more, "--readings", str(tmp_path / "readings.csv"), "--json", "-"]) == 1
    first = json.loads(capsys.readouterr().out)["causes"][0]
    assert first["signal"] == "D01"
    assert first["because"][0] == "Read with a meter on its net: 1 time on suspect."
    assert first["probe_next"].startswith("With power off, measure")


def test_pins_tells_what_the_captures_reach_and_what_readings_teach(tmp_path: Path, capsys) -> None:
    (tmp_path / "more.csv").write_text("from,to,ohms,side\n7-B02,3-B07,0.2,good\n")
    (tmp_path / "wires.csv").write_text("part,kind,output,inputs\nU7,gate,D01,ACK STB\nU8,gate,X,Y\n")
    command = ["pins", str(HELD / "pins.csv"), "--readings", str(tmp_path / "more.csv")]
    command += ["--keep", str(tmp_path / "kept.csv"), "--wires", str(tmp_path / "wires.csv")]
    command += ["--good", str(HELD / "good.csv.gz"), "--suspect", str(HELD / "suspect.csv.gz")]
    # its one chip has too few of its pins in the captures to be judged: cannot tell
    assert main([*command, "--sheet", str(HELD / "sheet.csv"), "--clock", "MCLK"]) == 2
    out = capsys.readouterr().out
    assert "The good side's readings put 1 pin more on D01." in out
    assert "The captures reach 1 of 2 nets; not GND." in out
    assert "2 rows, 1 with every net captured" in out
    assert read_pin_list(tmp_path / "kept.csv").rows[-1].place == "3-B07"


def test_two_clips_are_compared_pin_by_pin(tmp_path: Path, capsys) -> None:
    good = _clip(tmp_path / "good.csv", "7400", names="pin {}")
    suspect = _clip(tmp_path / "clip.csv", "7400", Fault("stuck", ("Y2",), 1), names="pin {}", seed=8)
    assert main(["part", "7400", "--capture", str(suspect), "--good", str(good)]) == 1
    out = capsys.readouterr().out
    assert "6 Y2: moves on good, stands still on suspect" in out
    assert "high throughout)" in out
    assert "Output 6 (Y2) differs from the good board in 1 of 4 input states that both went through." in out
    assert main(["part", "7400", "--capture", str(suspect), "--good", str(good), "--json", "-"]) == 1
    told = json.loads(capsys.readouterr().out)["pin_by_pin"]
    assert told[0] == {
        "leg": 6, "name": "Y2", "verdict": "still on suspect", "good_transitions": told[0]["good_transitions"],
        "suspect_transitions": 0, "good_high_share": told[0]["good_high_share"], "suspect_high_share": 1.0,
    }  # fmt: skip
    assert len(told) == 12
