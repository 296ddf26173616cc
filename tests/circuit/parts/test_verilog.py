"""Parts against models in a hardware language (IEEE Std 1364), run by a simulator over the same drawn inputs."""

from __future__ import annotations

import random
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tracecore.capture import digital_trace
from tracecore.circuit.parts.catalogue import find_part
from tracecore.circuit.parts.obedience import check_part
from tracecore.circuit.parts.pin_traces import PinTraces

MODELS = Path(__file__).with_name("models.v")
STEP_PS = 400_000
"""Inputs stand so long; outputs of the models follow at once, and are taken as 10 ns late."""
STEPS = 500
pytestmark = pytest.mark.skipif(shutil.which("iverilog") is None, reason="no Verilog simulator (iverilog) here")


def _ports(name: str) -> tuple[list[str], list[str]]:
    head = re.search(rf"module m{name}\((.*?)\);", MODELS.read_text(), re.S)
    assert head is not None
    sides: dict[str, list[str]] = {"input": [], "output": []}
    side = "input"
    for word in re.findall(r"\w+", head[1]):
        if word in sides:
            side = word
        elif word != "reg":
            sides[side].append(word)
    return sides["input"], sides["output"]


def _stimulus(inputs: list[str], seed: int) -> list[dict[str, int]]:
    """One input moves at a time; clears and loads are let go soon."""
    draw = random.Random(seed)
    quiet = {n: 0 if n == "CLR" else 1 for n in inputs if n.startswith(("CLR", "PRE", "LOAD"))}
    now = {n: quiet.get(n, 0) for n in inputs} | {n: 1 for n in inputs if n in ("UP", "DOWN")}
    out = [dict(now)]
    for k in range(STEPS):
        active = [n for n, level in quiet.items() if now[n] != level]
        clocks = [n for n in inputs if n.startswith("CLK") or n in ("UP", "DOWN")]
        low = [n for n in ("UP", "DOWN") if now.get(n) == 0]
        if k == 2 and quiet:
            name = next(iter(quiet))
        elif low:
            name = low[0]
        elif active and draw.random() < 0.5:
            name = active[0]
        elif clocks and draw.random() < 0.5:
            name = draw.choice(clocks)
        else:
            name = draw.choice([n for n in inputs if n not in quiet or draw.random() < 0.1] or inputs)
        now[name] ^= 1
        out.append(dict(now))
    return out


@pytest.fixture(scope="module")
def simulated(tmp_path_factory) -> dict[str, tuple[list[dict[str, int]], list[str], list[list[int]]]]:
    """All models in one run: the inputs, and the outputs after each step; 2 where a model does not know."""
    folder = tmp_path_factory.mktemp("verilog")
    numbers = re.findall(r"module m(\w+)\(", MODELS.read_text())
    bench, stimuli = ["module bench;"], {}
    for number in numbers:
        inputs, outputs = _ports(number)
        stimuli[number] = _stimulus(inputs, int(number))
        wires = ", ".join(f".{p}(i{number}[{k}])" for k, p in enumerate(inputs))
        wires += ", " + ", ".join(f".{p}(o{number}[{k}])" for k, p in enumerate(outputs))
        bench.append(f"reg [{len(inputs) - 1}:0] i{number}; wire [{len(outputs) - 1}:0] o{number};")
        bench.append(f"m{number} u{number}({wires});\ninitial begin")
        for state in stimuli[number]:
            bits = "".join(str(state[p]) for p in reversed(inputs))
            bench.append(f'i{number} = {len(inputs)}\'b{bits}; #1 $display("{number} %b", o{number});')
        bench.append("end")
    bench.append("endmodule")
    (folder / "bench.v").write_text("\n".join(bench))
    out = folder / "bench"
    subprocess.run(["iverilog", "-g2005", "-o", out, MODELS, folder / "bench.v"], check=True, timeout=60)
    said = subprocess.run(["vvp", out], check=True, capture_output=True, text=True, timeout=60).stdout
    shown: dict[str, list[list[int]]] = {number: [] for number in numbers}
    for line in said.splitlines():
        number, bits = line.split()
        shown[number].append([int(b) if b in "01" else 2 for b in reversed(bits)])
    return {number: (stimuli[number], _ports(number)[1], shown[number]) for number in numbers}


def _captured(stimulus: list[dict[str, int]], outputs: list[str], shown: list[list[int]]) -> PinTraces:
    times = np.arange(len(stimulus), dtype=np.int64) * STEP_PS
    stop = len(stimulus) * STEP_PS
    traces = {name: digital_trace(times, np.array([s[name] for s in stimulus], np.uint8), stop) for name in stimulus[0]}
    for k, name in enumerate(outputs):
        levels = np.array([row[k] for row in shown], np.uint8)
        late = times + 10_000
        late[0] = 0
        traces[name] = digital_trace(late, levels, stop)
    return PinTraces(traces, {}, 0, stop, 1000)


def test_at_least_ten_parts_are_modelled() -> None:
    assert len(re.findall(r"module m\d", MODELS.read_text())) >= 10


@pytest.mark.parametrize("number", re.findall(r"module m(\w+)\(", MODELS.read_text()))
def test_the_models_agree(simulated, number: str) -> None:
    stimulus, outputs, shown = simulated[number]
    part = find_part(number)
    # the speed of another family, so that the plain type's rules on its clock do not leave much out
    fast = next((n for n in part.numbers if "LS" in n), number)
    pins = _captured(stimulus, outputs, shown)
    found = check_part(part, fast, pins)
    assert found.verdict == "obeys", found.outputs
    assert all(c.judged > 25 or c.name == "AEQB" for c in found.outputs), found.outputs
    # one level turned over in the middle is found
    first = outputs[0]
    trace = pins.traces[first]
    moved = trace.levels.copy()
    late = len(moved) // 2
    moved[late:] = np.where(moved[late:] == 2, 2, 1 - moved[late:])
    turned = replace(pins, traces={**pins.traces, first: digital_trace(trace.times_ps.copy(), moved, trace.stop_ps)})
    assert check_part(part, fast, turned, explain=False).verdict == "disobeys"
