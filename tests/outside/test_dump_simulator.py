"""A dump that a hardware simulator writes: a 4-bit counter in MyHDL, whose values are known by counting."""

from __future__ import annotations

import numpy as np
import pytest

from tracecore.export import export_capture
from tracecore.readers import read_capture

myhdl = pytest.importorskip("myhdl")
PERIOD_NS, CYCLES = 20, 40


@pytest.fixture
def dump(tmp_path, monkeypatch):
    """The simulator writes ``bench.vcd`` into the current folder."""
    monkeypatch.chdir(tmp_path)
    clk, count = myhdl.Signal(bool(0)), myhdl.Signal(myhdl.intbv(0)[4:])

    @myhdl.block
    def bench():
        @myhdl.always(myhdl.delay(PERIOD_NS // 2))
        def drive():
            clk.next = not clk

        @myhdl.always(clk.posedge)
        def step():
            count.next = (count + 1) % 16

        return drive, step

    counter = bench()
    counter.config_sim(trace=True, timescale="1ns", directory=str(tmp_path), filename="bench")
    counter.run_sim(PERIOD_NS * CYCLES, quiet=1)
    counter.quit_sim()
    return tmp_path / "bench.vcd"


def test_the_counter_counts_on_each_rising_edge(dump):
    capture = read_capture(dump)
    bits = {name.rpartition(".")[2]: trace for name, trace in capture.digital.items()}
    assert set(bits) == {"clk", "count[3]", "count[2]", "count[1]", "count[0]"}
    rising = bits["clk"].transitions_ps[::2]
    assert (np.diff(rising) == PERIOD_NS * 1000).all()
    assert len(rising) == CYCLES
    for n in range(4):
        assert (bits[f"count[{n}]"].level_at(rising[:-1] + 1) == (np.arange(1, len(rising)) >> n & 1)).all()


def test_the_simulators_dump_comes_back_from_its_export(dump, tmp_path):
    capture = read_capture(dump)
    for form in ("dump", "rows"):
        export_capture(capture, tmp_path / form, form)
        back = read_capture(tmp_path / form)
        assert back.channels == capture.channels
        assert back.resolution_ps == capture.resolution_ps
        for name, trace in capture.digital.items():
            assert back.digital[name].times_ps.tolist() == trace.times_ps.tolist()
            assert back.digital[name].stop_ps == trace.stop_ps
