"""``twinslot part``, run in the same process: a clip's capture as a file, the answer in words and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from tests.circuit.parts.drawn_chip import Fault, drawn_chip
from tracecore.circuit.parts.catalogue import find_part
from tracecore.circuit.parts.delays import part_times


def _clip(path: Path, number: str, fault: Fault | None = None, names: str = "{}", seed: int = 7) -> Path:
    """Rows of a logic capture at 100 MHz, a column a leg."""
    part = find_part(number)
    pins = drawn_chip(part, part_times(number, part), seed, resolution_ps=10_000, fault=fault, changes=200, hasty=0)
    times = np.arange(0, pins.stop_ps, 10_000, dtype=np.int64)
    legs = sorted(pins.traces, key=part.leg)
    table = np.stack([pins.levels(name, times) for name in legs], axis=1)
    heading = ",".join(["time (ns)", *(names.format(part.leg(name)) for name in legs)])
    rows = [f"{at // 1000},{','.join(map(str, row))}" for at, row in zip(times.tolist(), table.tolist(), strict=True)]
    path.write_text("\n".join([heading, *rows]) + "\n")
    return path


def test_a_chip_that_obeys(tmp_path: Path, capsys) -> None:
    clip = _clip(tmp_path / "clip.csv", "74LS138", names="pin {}")
    assert main(["part", "74LS138", "--capture", str(clip)]) == 0
    out = capsys.readouterr().out
    assert "74LS138 obeys in all" in out
    assert "of 64 input states were seen" in out
    assert "41 ns" in out


def test_a_dead_input_is_named_and_what_may_replace_the_chip(tmp_path: Path, capsys) -> None:
    clip = _clip(tmp_path / "clip.csv", "74LS138", Fault("open", ("C",), 1), names="pin {}")
    good = _clip(tmp_path / "good.csv", "74LS138", names="pin {}")
    stock = tmp_path / "donors.csv"
    stock.write_text("board,position,number,date_code\ndonor 2,U9,74LS138,7338\n")
    command = ["part", "74LS138", "--capture", str(clip), "--good", str(good), "--donors", str(stock)]
    assert main(command) == 1
    out = capsys.readouterr().out
    assert "Known-good: 74LS138 obeys" in out
    assert "All of it fits if leg 3 (C) reads high, whatever its net does." in out
    assert "U9 of donor 2 (7338)" in out
    assert "74S138A: family 74S; faster" in out
    assert main([*command, "--json", "-"]) == 1
    record = json.loads(capsys.readouterr().out)
    assert record["suspect"]["explanations"][0]["legs"] == [3]
    assert record["good"]["verdict"] == "obeys"
    assert record["replacements"][0]["donors"][0]["position"] == "U9"


def test_channels_are_named_by_hand_and_legs_may_be_tied(tmp_path: Path, capsys) -> None:
    clip = _clip(tmp_path / "clip.csv", "7400", names="L{}")
    assert main(["part", "7400", "--capture", str(clip)]) == 2
    assert "No channel of clip.csv is named as a leg" in capsys.readouterr().err
    legs = [f"L{leg}={leg}" for leg in find_part("7400").signals if leg != 2]
    command = ["part", "7400", "--capture", str(clip), "--pins", *legs]
    assert main(command) == 0
    assert "Nothing is known of leg 2 (B1)" in capsys.readouterr().out
    assert main([*command, "--tie", "2=1"]) in (0, 1, 2)
    assert "Nothing is known" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["7499", "--capture", "none.csv"], "The table has no part '7499'"),
        (["7400"], "Name the chip and its capture"),
        (["7400", "--capture", "none.csv", "--r", "1000"], "takes both --r and --c"),
    ],
)
def test_what_cannot_be_done_is_told(more: list[str], said: str, capsys) -> None:
    assert main(["part", *more]) == 2
    assert said in capsys.readouterr().err


def test_the_list_of_parts(capsys) -> None:
    assert main(["part", "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 51
    assert lines[0].startswith("7400")


def test_an_output_that_was_asked_for_one_level_only_is_told(tmp_path: Path, capsys) -> None:
    rows = "\n".join(f"{at * 50},{at // 20 % 2},1,{1 - at // 20 % 2},0,{at // 20 % 2},1" for at in range(400))
    clip = tmp_path / "clip.csv"
    clip.write_text("time (ns),1,2,3,4,5,6\n" + rows + "\n")
    assert main(["part", "7400", "--capture", str(clip)]) == 0
    out = capsys.readouterr().out
    assert "Output 6 (Y2) was asked to be high only: nothing shows that it can be otherwise." in out
    assert "Nothing shows that pin" in out
