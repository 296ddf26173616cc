"""Families and part figures against the reference tables, figure by figure, and against worked examples.

``tests/data/ttl`` holds the reference tables, each row with its source and whether that was seen or is from memory;
the program's own tables in ``tracecore/measure/figures`` are written another way and must say the same. What the
program shows of a source, the document without its publisher, is its column ``shown``.
"""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path

import pytest

from tracecore.circuit.parts.catalogue import sources
from tracecore.errors import RequestError
from tracecore.measure.families import (
    SCHMITT,
    at_supply,
    bus_idle_v,
    families,
    family,
    fan_out,
    hysteresis_state,
    input_level,
    least_pull_up_ohm,
    noise_margin,
    pull_up_ohm,
    rows,
    supply_trouble,
)
from tracecore.measure.part_figures import all_parts, part_figures, path_budget

DATA = Path(__file__).parents[1] / "data" / "ttl"


def table(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


CHECKS = {row["id"]: row for row in table("checks.csv")}
SOURCES = {row["id"]: row for row in table("sources.csv")}


def expected(key: str) -> float:
    return float(CHECKS[key]["expected"])


def test_every_figure_of_the_families_is_that_of_the_reference():
    differs, count = [], 0
    for row in table("levels.csv"):
        if row["family"] == "LVTTL" or row["bound"] == "range":
            continue
        found = [
            f
            for f in families()[row["family"]].figures
            if (f.symbol, f.bound, f.condition) == (row["symbol"], row["bound"], row["condition"])
        ]
        titles = "; ".join(SOURCES[i]["shown"] or SOURCES[i]["title"] for i in row["source"].split("+"))
        got = [(f.value, f.unit, f.status, f.source) for f in found]
        if got != [(float(row["value"]), row["unit"], row["status"], titles)]:
            differs.append((row, got))
        count += 1
    assert not differs
    assert count == sum(len(f.figures) for name, f in families().items() if name not in (*SCHMITT, "bus"))
    assert count > 160


def test_the_named_limits_are_the_printed_figures():
    at = {
        (r["family"], r["symbol"], r["bound"]): float(r["value"]) for r in table("levels.csv") if r["bound"] != "range"
    }
    names = {r["family"] for r in table("levels.csv")} - {"LVTTL"}
    assert names == {"74", "74H", "74L", "74S", "74LS", "74AS", "74ALS", "74F", "74HC", "74HCT"}
    pairs = {
        "vil_v": ("VIL", "max"),
        "vih_v": ("VIH", "min"),
        "vol_v": ("VOL", "max"),
        "voh_v": ("VOH", "min"),
        "vcc_min_v": ("VCC", "min"),
        "vcc_max_v": ("VCC", "max"),
        "vref_v": ("VREF_TIMING", "nom"),
        "vik_v": ("VIK", "max"),
        "vi_abs_v": ("VI_ABS", "max"),
        "iol_ma": ("IOL", "max"),
        "ioh_ma": ("IOH", "max"),
        "iil_ma": ("IIL", "max"),
        "iih_ma": ("IIH", "max"),
    }
    differs = [
        (name, field)
        for name in names
        for field, (symbol, bound) in pairs.items()
        if (name, symbol, bound) in at and getattr(family(name), field) != at[name, symbol, bound]
    ]
    assert not differs


def test_thresholds_with_hysteresis_are_those_of_the_reference():
    for row in table("schmitt.csv"):
        if row["part"] not in (*SCHMITT, "8838"):
            continue
        one = family("bus" if row["part"] == "8838" else row["part"])
        own = {f.bound: (f.value, f.status) for f in one.figures if f.symbol == row["symbol"]}
        for bound in ("min", "typ", "max"):
            if row[bound] and row["symbol"] in ("VT+", "VT-"):
                assert own[bound] == (float(row[bound]), row["status"]), row
    assert (family("7414").vil_v, family("7414").vih_v) == (0.6, 2.0)


def test_every_timing_figure_is_that_of_the_reference():
    differs, count = [], 0
    for row in table("timing.csv"):
        if row["parameter"] == "tw(out)":
            continue
        factor = 10**6 if row["unit"] == "MHz" else 1000
        wanted = tuple(round(float(row[b]) * factor) if row[b] else None for b in ("min", "typ", "max"))
        keys = row["parameter"], row["from_pin"], row["to_pin"], row["condition"]
        got = [
            ((f.least, f.typical, f.most), f.load, f.status)
            for f in all_parts()[row["part"]].rows
            if (f.parameter, f.from_pin, f.to_pin, f.condition) == keys
        ]
        if (wanted, row["load"], row["status"]) not in got:
            differs.append((row, got))
        count += 1
    assert not differs
    assert count == sum(len(p.rows) for p in all_parts().values()) == 738


@pytest.mark.parametrize(
    ("driver", "receiver", "low", "high"),
    # TI SDLS025D, SDLS025B and SDLS119 (74S VOH)
    [("74", "74", "nm74l", "nm74h"), ("74LS", "74LS", "nmlsl", "nmlsh"), ("74S", "74S", "nmsl", "nmsh")],
)
def test_noise_margins_of_the_worked_examples(driver, receiver, low, high):
    assert noise_margin(family(driver), family(receiver)) == pytest.approx((expected(low), expected(high)), abs=1e-9)


def test_a_74ls_output_makes_no_high_for_74hc():
    # TI SDLS025B; Hitachi HD74HC298, at 4.5 V
    assert noise_margin(family("74LS"), family("74HC"))[1] == pytest.approx(expected("nmls_hc"), abs=1e-9)
    assert at_supply(family("74HC"), 5.0).vil_v == 1.5
    assert at_supply(family("74ALS"), 5.0).voh_v == 3.0


@pytest.mark.parametrize(
    ("driver", "receiver", "key", "side"),
    # TI SDLS025D
    [
        ("74", "74", "fo_74_74", 0),
        ("74S", "74S", "fo_74S_74S", 0),
        ("74LS", "74LS", "fo_74LS_74LS", 0),
        ("74LS", "74", "fo_74LS_74", 0),
        ("74", "74LS", "fo_74_74LS_low_side", 0),
        ("74", "74LS", "fo_74_74LS_high_side", 1),
        ("74S", "74", "fo_74S_74", 0),
        ("74", "74S", "fo_74_74S", 0),
        ("74LS", "74S", "fo_74LS_74S", 0),
    ],
)
def test_fan_out_of_the_worked_examples(driver, receiver, key, side):
    assert fan_out(family(driver), family(receiver))[side] == expected(key)


@pytest.mark.parametrize("key", [key for key in CHECKS if key.startswith("cls74")])
def test_levels_are_classed_as_in_the_worked_examples(key):
    # TI SDLS025D: 0.8 V at most, 2.0 V at least; 5.5 V and -1.5 V are where the input is rated
    name, _, volts = key.removeprefix("cls").partition("_")
    said = {"undefined": "invalid"}.get(found := input_level(family(name), float(volts)), found)
    assert said == CHECKS[key]["expected"]


@pytest.mark.parametrize("key", [key for key in CHECKS if key.startswith("sch7414")])
def test_inputs_with_hysteresis_read_as_in_the_worked_examples(key):
    # TI SDLS049C
    _, was, volts = key.split("_")
    got = hysteresis_state(family("7414"), was == "high", float(volts))
    assert got in CHECKS[key]["expected"]


def test_hysteresis_of_the_7414_is_printed_as_its_thresholds_differ():
    typical = {f.symbol: f.value for f in family("7414").figures if f.bound == "typ"}
    assert typical["VT+"] - typical["VT-"] == pytest.approx(expected("sch_hyst"))


def test_the_bus_rests_where_its_terminators_hold_it():
    # National DM8838: 180 ohm to 5 V, 390 ohm to ground, driver 0.7 V at 50 mA
    assert bus_idle_v(5.0) == pytest.approx(expected("bus_idle"), abs=1e-4)
    assert family("bus").vol_v == 0.7
    one_end = 1 / (1 / 180 + 1 / 390)
    assert 1000 * (bus_idle_v(5.0) - 0.7) / (one_end / 2) == pytest.approx(expected("bus_sink"), abs=5e-3)
    assert expected("bus_sink") < family("bus").iol_ma


def test_pull_ups_of_the_worked_examples():
    # National DM54LS12/DM74LS12 page (equations), TI SDLS105 (7438), TI SDLS025D
    most = pull_up_ohm(4.75, 2.4, outputs=4, leak_ma=0.25, inputs=3, iih_ma=family("74").iih_ma)
    assert most / 1000 == pytest.approx(expected("pu_max"), abs=1e-4)
    least = least_pull_up_ohm(5.25, 0.4, iol_ma=48, inputs=3, iil_ma=family("74").iil_ma)
    assert least == pytest.approx(expected("pu_min"), abs=1e-2)


def _budget_ns(*chain: str) -> float:
    return path_budget(chain).total_ps / 1000


def test_path_budgets_of_the_worked_examples():
    # TI SDLS119, SDLS029C, SDLS025D; the adder's carry: TI SDLS136 and SDLS206
    total = _budget_ns("7474", "7404", "7400", "7474")
    assert total == expected("t7474")
    assert 1000 / total == pytest.approx(expected("f7474"), abs=5e-4)
    assert _budget_ns("74S74", "74S00", "74S74") == expected("t74s74")
    assert 50 - _budget_ns("74S74", "74S00", "74S74") == expected("slack20")


def test_delays_are_measured_where_the_sheet_says():
    assert family("74LS").vref_v == expected("vref")


def test_rise_time_of_an_rc_line():
    # from the formula; common practice rounds ln 9 to 2.2
    assert math.log(9) * 1000 * 50e-12 * 1e9 == pytest.approx(expected("rc1090"), abs=5e-3)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("74LSS", "Near it: 74LS"),
        ("VIL=2.0 VIH=0.8 VOL=0.4 VOH=2.4", "VIL 2 V is not below VIH 0.8 V"),
        ("VIL=0.8 VIH=2.0 VOL=2.4 VOH=0.4", "VOL 2.4 V is not below VOH 0.4 V"),
        ("VIL=0.8 VIH=2.0", "VOL, VOH missing"),
        ("VIL=0.8 VIH=2.0 VOL=0.4 VOH=2.4 loud", "'loud' besides"),
    ],
)
def test_a_family_that_cannot_be_is_refused_in_a_sentence(text, words):
    with pytest.raises(RequestError, match=words):
        family(text)


@pytest.mark.parametrize(("number", "words"), [("7475", "Near it: 74"), ("CPU", "has no timing figures")])
def test_a_part_without_figures_is_refused_in_a_sentence(number, words):
    with pytest.raises(RequestError, match=words):
        part_figures(number)


def test_setup_and_hold_are_found_by_pin():
    assert part_figures("74161").setup("LOAD_n").least == 25_000
    assert part_figures("74S174").setup().least == 5_000
    assert part_figures("74LS112").edge == "falling"
    assert part_figures("7400").setup() is None


@pytest.mark.parametrize(
    ("chain", "words"),
    [(("7474",), "two parts"), (("7474", "7404"), "no printed setup"), (("7474", "9999"), "figures")],
)
def test_a_path_that_cannot_be_is_refused(chain, words):
    with pytest.raises(RequestError, match=words):
        path_budget(chain)


def test_outside_its_supply_no_family_is_judged():
    assert "Measure the supply" in supply_trouble(family("74"), 4.5)
    assert supply_trouble(family("74"), 5.0) == ""


def test_what_is_shown_cites_documents_and_no_company():
    makers = re.compile(
        r"\b(TI|Texas|National|Hitachi|Motorola|Philips|Fairchild|Signetics|Hewlett|Siemens|Intel|Toshiba|AMD|NXP)\b"
    )
    cited = [family.cited for family in families().values()]
    assert all(0 < len(words) < 60 for words in cited)
    shown = [*cited, *(family.source for family in families().values()), *sources().values()]
    for name in ("citations", "levels", "schmitt", "sources", "timing"):
        shown += [row.get("source") or row["title"] for row in rows(f"{name}.csv")]
    assert [words for words in shown if makers.search(words)] == []
