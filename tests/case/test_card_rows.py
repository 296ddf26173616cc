"""Rows of a bench card: every known pin is asked for, none is made up, and what is lacking is said."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from app.case.card_rows import BLANK, MOST_ROWS, card_for, card_number, card_slots, found_choices
from app.case.changes import Put
from app.case.record import OpenCase
from app.case.values import BenchCard, CardRow, Entry, Reading
from tests.widgets.hand_built import STOP_PS, bench_comparison
from tracecore.capture import AnalogTrace
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.compare.fault_kinds import FaultKind, kind_named
from tracecore.compare.findings import Cause
from tracecore.comparison import Comparison
from tracecore.measure.families import family
from tracecore.settings import CompareSettings

D03 = Probe("6", "D03", "7", "B04", family="74LS", driver="6-B22")
D02 = Probe("5", "D02", "7", "B03", family="74LS", driver="6-B21")


def case_of(*probes: Probe, **more: object) -> OpenCase:
    return replace(OpenCase(number="14", sheet=ProbeSheet(probes)), **more)


def cause_of(signal: str = "D03", mode: str = "stuck low", cycle: int | None = 13) -> Cause:
    kind = kind_named(mode)
    partners = (mode.split()[-1],) if kind is FaultKind.FOLLOWS else ()
    return Cause(1, signal, mode, cycle, 13, "", (), (), "look there", fault_kind=kind, partners=partners)


def compared(**changes: object) -> Comparison:
    """The shared comparison with other facts about D03."""
    full = bench_comparison()
    return replace(full, signals=tuple(replace(s, **changes) if s.signal == "D03" else s for s in full.signals))


def card_of(*probes: Probe, mode: str = "stuck low", finding: dict[str, object] | None = None, **more: object):
    facts: dict[str, object] = {"driver": "6-B22", "family": "74LS"}
    return card_for(case_of(*probes), compared(**(finding or facts)), cause_of(mode=mode), **more)


def pins_in(card: BenchCard) -> set[str]:
    return {pin for row in card.rows for text in (row.probe, row.how) for pin in re.findall(r"\d+-[A-Z]\d+", text)}


def test_power_off_comes_first_and_supply_before_any_level() -> None:
    card = card_of(D03, ground_pins=["7-A36", "6-A36"], supply_pins=["7-A02"])
    assert [row.power for row in card.rows] == ["off"] * 3 + ["on"] * 3
    assert [row.probe for row in card.rows] == [
        "6-B22 to 7-B04", "7-B04 to 7-A36", "7-B04 to 7-A36", "7-A02 to 7-A36", "6-B22", "7-B04",
    ]  # fmt: skip
    assert card.rows[1].where == "to ground; slot 7 empty"
    assert card.rows[2].where == "to ground; card 7 in, red lead on B04"
    assert card.rows[3].how == "+5 V at slot 7, read first"
    assert card.rows[4].how == "driver, should move; ground clip on 6-A36"
    assert [row.boxes for row in card.rows] == [("",)] * 4 + [("low", "high")] * 2


def test_outputs_are_held_to_what_they_promise_and_inputs_to_what_they_need() -> None:
    # TI SDLS025B, SN74LS00: VOL 0.5 V at 8 mA, VOH 2.7 V, VIL 0.8 V, VIH 2 V; TI SDLS025: supply 4.75 to 5.25 V
    supply, driver, receiver = card_of(D03).rows[3:]
    assert driver.limit.splitlines()[0] == "low ≤ 0.5, high ≥ 2.7 V"
    assert receiver.limit.splitlines()[0] == "low ≤ 0.8, high ≥ 2.0 V"
    assert supply.limit.splitlines()[0] == "4.75 to 5.25 V"
    for row in (supply, driver, receiver):
        assert "SDLS025" in row.limit.splitlines()[1]
    # the sheet tells what hears the net, not what drives it
    assert "assumed" in driver.limit
    assert "assumed" not in receiver.limit


def test_the_case_family_serves_where_the_sheet_names_none() -> None:
    facts = {"driver": "6-B22", "family": ""}
    card = card_for(case_of(D03, settings=CompareSettings(family="74S")), compared(**facts), cause_of())
    assert card.rows[-1].limit.splitlines()[1] == f"74S: {family('74S').cited}, family assumed"


def test_limits_from_memory_say_so() -> None:
    card = card_of(D03, finding={"driver": "6-B22", "family": "74L"})
    assert card.rows[-1].limit.endswith("from memory: check")


def test_no_pin_is_made_up() -> None:
    card = card_of(finding={"driver": "", "slot": "", "pin": "", "family": "74"})
    assert pins_in(card) == set()
    assert card.rows[0].probe == f"{BLANK} to {BLANK}"
    assert "the sheet lacks the driver and receiver pin" in card.rows[0].how
    assert "both pins not known" in card.rows[3].how
    assert all("lacks its pin" in row.how for row in card.rows[4:])
    assert all(BLANK in row.probe for row in card.rows)
    assert card_slots(card) == ()


@pytest.mark.parametrize("known", ["ground", "supply"])
def test_one_unknown_rail_pin_is_named(known: str) -> None:
    card = card_of(D03, **{f"{known}_pins": ["7-A05"]})
    other = "+5 V" if known == "ground" else "ground"
    assert card.rows[3].how.endswith(f"; {other} pin not known")
    assert pins_in(card) == {"6-B22", "7-B04", "7-A05"}


def test_rail_pins_come_from_the_sheet_as_well() -> None:
    card = card_of(D03, Probe("90", "GND", "7", "A36"), Probe("91", "+5 V", "7", "A02"))
    assert card.rows[3].probe == "7-A02 to 7-A36"
    assert "7-A36" in card.rows[1].probe


def test_further_receivers_share_the_driver_or_are_named() -> None:
    card = card_of(D03, Probe("9", "D03B", "9", "B11", driver="6-B22"), receivers=["11-B12"])
    off = [row.probe for row in card.rows if row.power == "off"]
    assert off[:3] == ["6-B22 to 7-B04", "6-B22 to 9-B11", "6-B22 to 11-B12"]
    assert [row.probe for row in card.rows[-3:]] == ["7-B04", "9-B11", "11-B12"]
    assert len(card.rows) == MOST_ROWS
    assert card_slots(card) == ("6", "7", "9", "11")
    assert found_choices(card) == (
        "wire", "wrap", "contact", "card 6", "card 7", "card 9", "card 11", "nothing yet",
    )  # fmt: skip


def test_receivers_beyond_the_sheet_of_paper_are_counted() -> None:
    card = card_of(D03, receivers=["9-B11", "10-B11", "11-B11", "12-B11"])
    assert len(card.rows) == MOST_ROWS
    assert "not on this card: 2 more" in card.rows[1].how


def test_a_follower_is_measured_against_its_partner() -> None:
    card = card_of(D03, D02, mode="follows D02", receivers=["9-B11", "10-B11"])
    bridged = [row for row in card.rows if "may be bridged" in row.limit]
    assert [row.probe for row in bridged] == ["7-B04 to 7-B03"]
    assert len(card.rows) <= MOST_ROWS
    assert card.rows[-1].probe == "9-B11"


def test_a_probe_on_the_driver_itself_is_no_receiver() -> None:
    card = card_of(D03, finding={"driver": "7-B04", "family": "74"}, receivers=["9-B11"])
    assert card.rows[0].probe == "7-B04 to 9-B11"
    assert [row.probe for row in card.rows[-2:]] == ["7-B04", "9-B11"]


def test_the_good_value_is_measured_from_volts_and_never_from_ringing() -> None:
    volts = np.tile(np.repeat(np.array([0.2, 3.4], np.float32), 50), STOP_PS // 20_000 // 100 + 1)
    volts[50::100] = 4.6
    trace = AnalogTrace(0, Fraction(20_000), volts)
    facts = {"driver": "6-B22", "family": "74LS", "good_volts": trace}
    driver, receiver = card_of(D03, finding=facts).rows[-2:]
    assert receiver.good == "0.2 and 3.4 V"
    assert driver.good == ""
    still = replace(trace, volts=np.full(500, 0.2, np.float32))
    assert card_of(D03, finding={**facts, "good_volts": still}).rows[-1].good == "0.2 and none V"


def test_good_readings_come_from_the_newest_line_of_the_log() -> None:
    entries = (
        Entry(1, "measured", "", readings=(Reading("6-B22 to 7-B04", "0.3", "17"),)),
        Entry(2, "measured", "", readings=(Reading("7-B04 to 6-B22", "0.2 ohm", "18 ohm"),)),
        Entry(3, "measured", "", readings=(Reading("7-B04 to 7-A36, card 7 in", "2.1", "0.01", "kohm"),)),
        Entry(5, "measured", "", readings=(Reading("7-B04 to 7-A36, card 7 in", "2100", "9", "ohm"),)),
    )
    case = case_of(D03, entries=entries)
    card = card_for(case, compared(driver="6-B22"), cause_of(), ground_pins=["7-A36"])
    assert (card.rows[0].good, card.rows[0].limit.splitlines()[0]) == ("0.2 ohm", "above 1.2 ohm: raised")
    assert card.rows[1].good == ""
    assert card.rows[2].good == "2.1 kohm"
    corrected = replace(case, entries=(*entries, Entry(4, "measured", "wrong pin", corrects=2)))
    assert card_for(corrected, compared(driver="6-B22"), cause_of()).rows[0].good == "0.3 ohm"


def test_a_signal_that_stands_still_on_the_good_unit_is_not_asked_to_move() -> None:
    still = bench_comparison().signal("SEQ2").good_trace
    assert still is not None
    card = card_of(D03, finding={"driver": "6-B22", "good_trace": replace(still, times_ps=still.times_ps[:1],
                                                                          levels=still.levels[:1])})  # fmt: skip
    assert "stands still on the good unit" in card.rows[-1].how


def test_the_finding_is_one_sentence_with_pin_mode_and_cycle() -> None:
    card = card_for(case_of(D03), compared(driver="6-B22"), cause_of(cycle=1013))
    assert card.finding == "D03 at 7-B04: stuck low, from good cycle 1\u202f013 on; driven by 6-B22."
    assert (card.signal, card.cycle, card.id) == ("D03", 1013, 0)


def test_numbers_count_on_and_are_never_given_twice() -> None:
    case = case_of(D03)
    for expected in ("14-1", "14-2"):
        card = card_for(case, compared(driver="6-B22"), cause_of())
        assert card.number == expected
        case = Put(card).applied(case)
    assert [c.id for c in case.cards] == [1, 2]
    assert card_number(replace(case, number="")) == "1-3"
    renamed = replace(case, cards=(replace(case.cards[0], number="14-3"), case.cards[1]))
    assert card_number(renamed) == "14-4"


def test_no_word_calls_a_step_safe() -> None:
    card = card_of(D03, D02, mode="follows D02")
    words = " ".join((row.how + row.limit + row.good) for row in card.rows).lower()
    assert "safe" not in words


def test_found_choices_of_a_card_written_by_hand() -> None:
    row = CardRow("on", "R-12", "", "", "", "V")
    assert found_choices(BenchCard(0, "1-1", "X", None, "", (row,)))[3] == "card R"


PINS = """net,slot,pin,part,part_pin,direction
D03,6,B22,U3 74LS244,16,three-state
D03,7,B04,U7 74181,2,in
D03,9,B11,U2 7404,1,in
GND,7,A36,,,supply
+5V,7,A02,,,supply
"""
READINGS = """from,to,ohms,side,note
leads,leads,0.1,good,
6-B22,7-B04,0.3,good,
6-B22,9-B11,open,good,
7-B04,7-A36,open,good,slot 7 empty
7-B04,7-A36,2.1k,good,card in
6-B22,7-B04,52,suspect,
"""


def test_the_pin_list_and_the_ohm_readings_fill_the_card() -> None:
    """Driver, further receivers and rails that the sheet lacks; what good reads, the leads taken off."""
    from tracecore.circuit.continuity.readings import parse_continuity
    from tracecore.circuit.pin_list import parse_pin_list

    case = case_of(replace(D03, driver=""), pins=parse_pin_list(PINS), continuity=parse_continuity(READINGS))
    card = card_for(case, compared(driver="", family="74LS"), cause_of())
    told = [(row.probe, row.good) for row in card.rows if row.power == "off"]
    assert told == [
        ("6-B22 to 7-B04", "0.2 ohm"),
        ("6-B22 to 9-B11", "open"),
        ("7-B04 to 7-A36", "open"),
        ("7-B04 to 7-A36", "2.1 kohm"),
    ]
    assert next(row.probe for row in card.rows if row.power == "on") == "7-A02 to 7-A36"
    assert card.rows[0].limit.startswith("above 1.2 ohm: raised")
