"""Parts of one run on one time: by the trigger, or by a signal that each part holds; names that mean one signal."""

from __future__ import annotations

import numpy as np
import pytest

from tests.readers.test_readers import put
from tracecore.errors import RequestError
from tracecore.readers import read_capture
from tracecore.sides.join import joined
from tracecore.sides.names import answering, renamed, same_names

_RNG = np.random.default_rng(5)
_EVENTS = np.cumsum(_RNG.integers(3, 60, 300)) * 1000


def changes(tmp_path, name, times, signal, more=("B",), shift=0):
    """Rows at 1 ns of a signal that toggles at ``times`` (ps), others that toggle at some of them."""
    rows = "".join(
        f"{(t + shift) // 1000},{i % 2}" + "".join(f",{i // (k + 2) % 2}" for k in range(len(more))) + "\n"
        for i, t in enumerate(times)
    )
    return read_capture(put(tmp_path, f"Time [ns],{signal},{','.join(more)}\n" + rows, name))


def test_a_file_a_channel_of_one_trigger_is_one_capture(tmp_path):
    one = read_capture(
        put(tmp_path, "Time (us),A (V)\n" + "".join(f"{i / 100:.2f},{i % 7}.5\n" for i in range(200)), "1.csv")
    )
    two = read_capture(
        put(tmp_path, "Time (us),B (V)\n" + "".join(f"{i / 100:.2f},{i % 5}.5\n" for i in range(50, 200)), "2.csv")
    )
    both = joined((one, two), "trigger")
    assert both.channels == ("A", "B")
    # nothing of the longer one is lost, and what the shorter one does not hold is told
    assert (both.start_ps, both.stop_ps) == (0, 2_000_000)
    assert both.analog["A"].volts.tolist() == one.analog["A"].volts.tolist()
    assert [note for note in both.notes if "not known outside" in note] == [
        "2.csv holds 1.5 µs of the 2 µs: its signals are not known outside that."
    ]
    assert both.analog["B"].volts.tolist() == two.analog["B"].volts.tolist()


@pytest.mark.parametrize("shift", [0, 17_000, -1_234_000, 5_000_000])
def test_two_instruments_are_placed_by_a_signal_of_both(tmp_path, shift):
    one = changes(tmp_path, "1.csv", _EVENTS[:250], "REQ", ("A",))
    two = changes(tmp_path, "2.csv", _EVENTS[40:], "REQ", ("B",), shift=shift)
    both = joined((one, two), "REQ")
    assert both.channels == ("REQ", "A", "B")
    assert both.digital["B"].times_ps.tolist() == (two.digital["B"].times_ps - shift).tolist()
    assert both.digital["A"] is one.digital["A"]
    assert any("edges of REQ" in note for note in both.notes)


def test_volts_of_a_channel_stand_beside_its_logic(tmp_path):
    logic = read_capture(
        put(tmp_path, "Time (us),A\n" + "".join(f"{i / 100:.2f},{i % 2}\n" for i in range(200)), "l.csv")
    )
    rows = "".join(f"{i / 100:.2f},{i % 7}.5\n" for i in range(90))
    volts = read_capture(put(tmp_path, "Time (us),A (V)\n" + rows, "v.csv"))
    for parts in ((logic, volts), (volts, logic)):
        both = joined(parts, "trigger")
        assert set(both.channels) == {"A", "A (volts)"}
        assert both.digital["A"].stop_ps == logic.stop_ps


def test_a_signal_that_repeats_places_nothing(tmp_path):
    clock = np.arange(300) * 10_000
    one, two = (changes(tmp_path, f"{n}.csv", clock, "CLK", (n,)) for n in "AB")
    with pytest.raises(RequestError, match="repeats"):
        joined((one, two), "CLK")


def test_signals_that_do_not_fit_and_repeats_are_refused(tmp_path):
    one = changes(tmp_path, "1.csv", _EVENTS, "REQ", ("A",))
    other = np.cumsum(np.random.default_rng(6).integers(3, 60, 300)) * 1000
    with pytest.raises(RequestError, match="fit at no offset"):
        joined((one, changes(tmp_path, "2.csv", other, "REQ", ("B",))), "REQ")
    with pytest.raises(RequestError, match="missing in"):
        joined((one, changes(tmp_path, "2.csv", _EVENTS, "ACK", ("B",))), "REQ")
    with pytest.raises(RequestError, match="a repeat"):
        joined((one, changes(tmp_path, "2.csv", _EVENTS, "REQ", ("A",))), "trigger")


def test_short_names_answer_where_they_are_unambiguous(tmp_path):
    capture = changes(tmp_path, "1.csv", _EVENTS, "crate.slot.CLK", ("crate.D[0]", "a.X", "b.X"))
    assert answering(capture, ["CLK", "D[0]", "X"]).channels == ("CLK", "D[0]", "a.X", "b.X")


def test_names_that_differ_by_case_blanks_or_prefix_are_offered(tmp_path):
    capture = changes(tmp_path, "1.csv", _EVENTS, "mem rq", ("Ch 1: ACK", "d_0", "D 0"))
    offered = same_names(capture, ("MEM_RQ", "ACK", "D0"))
    assert offered == {"mem rq": "MEM_RQ", "Ch 1: ACK": "ACK"}
    assert renamed(capture, offered).channels == ("MEM_RQ", "ACK", "d_0", "D 0")


def test_the_command_line_joins_parts_and_refuses_strangers(tmp_path, capsys):
    from app.cli.run import run

    for board in "gs":
        changes(tmp_path, f"{board}1.csv", _EVENTS, "REQ", ("A",))
        changes(tmp_path, f"{board}2.csv", _EVENTS, "B", ("C",))
    sides = ["compare", "--good", *(str(tmp_path / f"g{n}.csv") for n in "12")]
    sides += ["--suspect", *(str(tmp_path / f"s{n}.csv") for n in "12"), "--clock", "REQ", "--same-file"]
    assert run(sides) == 2
    assert "--join trigger" in capsys.readouterr().err
    run([*sides, "--join", "trigger", "--json", str(tmp_path / "found.json")])
    text = (tmp_path / "found.json").read_text()
    assert "g1.csv + g2.csv" in text
