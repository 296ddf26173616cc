"""Makes the files of the demo cases anew: ``python -m demo_traces.make_demo [FOLDER]``.

Every draw is seeded, so that each run writes the same captures. Those with the ending .gz are packed.
"""

from __future__ import annotations

import csv
import gzip
import io
import sys
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np

from demo_traces import CASES
from demo_traces.instruments import (
    Int64,
    Pin,
    UInt8,
    change_rows,
    clock_edges_ps,
    crate_pins,
    pin,
    sampled_pins,
    scope_columns,
    volts,
)
from demo_traces.linnet import ACTIVE_LOW, SIGNALS, machine_words, waiting_words

MACHINE = 1977
PERIOD_PS = 416_000
RATE_HZ = Fraction(24_000_000)
SLOWER = 1.002
"""The suspect's clock against the good one's."""

DRIVERS = {
    "MCLK": "2-A03",
    "STB": "2-A17",
    "ACK": "4-B09",
    "READ": "2-A18",
    "RFSH": "4-A11",
    "WAIT": "4-A12",
    **{f"D0{i}": f"6-B{19 + i}" for i in range(4)},
    **{f"ADDR0{i}": f"5-A{5 + i:02d}" for i in range(3)},
    **{f"SEQ{i}": f"3-A{20 + i}" for i in range(3)},
}
PINS = {
    "MCLK": "A02",
    "STB": "A17",
    "ACK": "A09",
    "READ": "A18",
    "RFSH": "A11",
    "WAIT": "A12",
    **{f"D0{i}": f"B0{1 + i}" for i in range(4)},
    **{f"ADDR0{i}": f"A{5 + i:02d}" for i in range(3)},
    **{f"SEQ{i}": f"A{20 + i}" for i in range(3)},
}


def side_pins(
    levels: UInt8, seed: int, first_ps: int, *, slower: float = 1.0, jitter_ps: float = 400
) -> tuple[dict[str, Pin], int]:
    """The pins of one crate by signal, the clock first, and the time at which the capture ends.

    ``levels`` uint8[signals, cycles + 4] begin two cycles before the edge at ``first_ps``.
    """
    rng = np.random.default_rng(seed)
    cycles = levels.shape[1] - 4
    edges = clock_edges_ps(first_ps, PERIOD_PS * slower, cycles, jitter_ps, rng)
    pins = crate_pins(dict(zip(SIGNALS, levels, strict=True)), edges, PERIOD_PS * slower, 1500, jitter_ps, rng)
    return pins, int(edges[2 + cycles] + 0.3 * PERIOD_PS)


def window(first_cycle: int, cycles: int, **more: object) -> UInt8:
    """Levels of the cycles wanted, with two to spare on either side."""
    return machine_words(MACHINE, first_cycle - 2, cycles + 4, **more)  # type: ignore[arg-type]


def sheet(
    signals: Sequence[str],
    channels: Sequence[str],
    families: dict[str, str],
    notes: dict[str, str],
    into: dict[str, str] | None = None,
) -> bytes:
    """The probe sheet of one case; ``into`` names the parts that take signals in."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ["channel", "signal", "slot", "pin", "active", "family", "bus", "bit", "driver", "note"]
        + (["into"] if into else [])
    )
    for channel, signal in zip(channels, signals, strict=True):
        bus = signal.rstrip("0123456789")
        in_bus = bus in ("D", "ADDR", "SEQ")
        writer.writerow(
            [
                *(channel, signal, "7", PINS[signal], "low" if signal in ACTIVE_LOW else "high"),
                *(families.get(signal, "74"), bus if in_bus else "", int(signal[len(bus) :]) if in_bus else ""),
                *(DRIVERS[signal], notes.get(signal, "")),
                *((into.get(signal, ""),) if into else ()),
            ]
        )
    return out.getvalue().encode()


def readme(name: str, fault: str) -> bytes:
    """Says that the case is invented, its story, and the fault."""
    case = CASES[name]
    return (
        f"# {case.title}\n\n"
        "Invented: there is no such plant, no such machine, and nobody captured anything.\n\n"
        f"{case.story}\n\n"
        f"- Signal: {case.planted_signal}\n- Fault mode: {case.planted_mode}\n"
        f"- First cycle: {case.planted_cycle} (of the first good capture, counted from 0)\n- Planted: {fault}\n"
    ).encode()


CHANNELS = tuple(f"L{i:02d}" for i in range(16))
SIXTEEN = ("MCLK", *SIGNALS)


def sixteen(pins: dict[str, Pin], stop_ps: int) -> bytes:
    """All signals of the slot as sampled rows at 24 MHz."""
    return sampled_pins(CHANNELS, [pins[s] for s in SIXTEEN], stop_ps, RATE_HZ)


def receiver() -> dict[str, bytes]:
    """Sampled rows at 24 MHz, sixteen channels; the suspect was started twelve cycles ahead."""
    planted = CASES["receiver"].planted_cycle
    d03 = SIGNALS.index("D03")

    def rows(first: int, cycles: int, seed: int, first_ps: int, since: int | None) -> bytes:
        def deaf(cycle: int, bits: int) -> int:
            return bits & 0b0111 if since is not None and cycle >= since else bits

        levels = window(first, cycles, receiver=deaf)
        if since is not None:
            levels[d03, max(0, since - first + 2) :] = 0
        pins, stop_ps = side_pins(levels, seed, first_ps, slower=1.0 if since is None else SLOWER)
        return sixteen(pins, stop_ps)

    return {
        "good.csv.gz": rows(0, 1700, 11, 130_000, None),
        "suspect.csv.gz": rows(-12, 1700, 12, 61_000, planted),
        "good_2.csv.gz": rows(390, 480, 13, 97_000, None),
        "suspect_2.csv.gz": rows(401, 480, 14, 150_000, 655),
        "sheet.csv": sheet(SIXTEEN, CHANNELS, {}, {"D03": "driven by slot 6, heard by slot 7"}),
        "README.md": readme(
            "receiver",
            "the wire from 6-B22 has come off 7-B04, where the stub touches ground. The operand board takes in the "
            "wrong bit, so that the sequencer and later data go wrong too. suspect.csv.gz begins 12 cycles before "
            "good.csv.gz; its clock is 0.2 % slower.",
        ),
    }


def contact() -> dict[str, bytes]:
    """Scope columns at 50 MS/s, four channels of volts."""
    signals = ("MCLK", "STB", "READ", "D02")
    names = ("CH1", "CH2", "CH3", "CH4")
    cycles, planted = 1180, CASES["contact"].planted_cycle

    def columns(first: int, seed: int, first_ps: int, faulty: bool) -> bytes:
        pins, stop_ps = side_pins(window(first, cycles), seed, first_ps, slower=SLOWER if faulty else 1.0)
        rng = np.random.default_rng(seed + 100)
        level_v: dict[int, float] = {}
        if faulty:
            since = first_ps + round((planted - first) * PERIOD_PS * SLOWER)
            pins["D02"], level_v = dirty(pins["D02"], since, rng)
        at = np.arange(stop_ps // 20_000, dtype=np.int64) * 20_000
        seen = [volts(pins[s], level_v if s == "D02" else {}, at) + rng.normal(0, 0.025, len(at)) for s in signals]
        return scope_columns(names, [np.round(v / 0.03) * 0.03 for v in seen], 20)

    return {
        "good.csv.gz": columns(0, 21, 140_000, False),
        "suspect.csv.gz": columns(9, 22, 90_000, True),
        "sheet.csv": sheet(signals, names, dict.fromkeys(signals[1:], "74LS"), {"D02": "second finger from the end"}),
        "README.md": readme(
            "contact",
            "resistance in the edge contact of D02: about a third of its lows rest near 1.1 V, and some short dips "
            "turn back there. suspect.csv.gz begins 9 cycles after good.csv.gz; its clock is 0.2 % slower.",
        ),
    }


def dirty(clean: Pin, since_ps: int, rng: np.random.Generator) -> tuple[Pin, dict[int, float]]:
    """A pin behind a dirty contact: lows that rest near 1.1 V, and runts, from ``since_ps`` on.

    The first low after ``since_ps`` is weak. Also gives the resting volts of the entries that are not sound.
    """
    times, levels, weak_v = [int(clean.times_ps[0])], [int(clean.levels[0])], {}
    ends = np.append(clean.times_ps[1:], clean.times_ps[-1] + PERIOD_PS)[1:]
    first = True
    for at, level, end in zip(clean.times_ps[1:].tolist(), clean.levels[1:].tolist(), ends.tolist(), strict=True):
        times.append(at)
        levels.append(level)
        if at < since_ps:
            continue
        if level == 0 and (first or rng.random() < 0.35):
            weak_v[len(times) - 1] = float(rng.normal(1.1, 0.04))
            first = False
        elif level == 1 and not first and end - at > 2 * PERIOD_PS and rng.random() < 0.25:
            dip = at + int(rng.integers(200_000, 330_000))
            weak_v[len(times)] = float(rng.normal(1.2, 0.05))
            times += [dip, dip + 38_000]
            levels += [0, 1]
    return Pin(np.array(times, np.int64), np.array(levels, np.uint8)), weak_v


def handshake() -> dict[str, bytes]:
    """Change rows in whole nanoseconds, eight channels."""
    signals = ("MCLK", "STB", "ACK", "READ", "D00", "D01", "ADDR00", "WAIT")
    names = [f"P{i}" for i in range(8)]
    cycles, late_by_ps = 3600, 170_000

    def rows(first: int, seed: int, first_ps: int, faulty: bool) -> bytes:
        pins, stop_ps = side_pins(window(first, cycles), seed, first_ps, slower=SLOWER if faulty else 1.0)
        if faulty:
            pins["ACK"] = late(pins["ACK"], late_by_ps, np.random.default_rng(seed + 99))
        return change_rows(names, [pins[s] for s in signals], stop_ps, 1000)

    return {
        "good.csv.gz": rows(0, 31, 120_000, False),
        "suspect.csv.gz": rows(-30, 32, 75_000, True),
        "sheet.csv": sheet(signals, names, {}, {"ACK": "one pull-up for all slots, in slot 4"}),
        "README.md": readme(
            "handshake",
            "about one in forty falling edges of ACK, at random, comes 170 ns late. Nothing else differs. "
            "suspect.csv.gz begins 30 cycles before good.csv.gz; its clock is 0.2 % slower.",
        ),
    }


def late(clean: Pin, by_ps: int, rng: np.random.Generator, share: float = 1 / 40) -> Pin:
    """Some falls come late, at random."""
    times = clean.times_ps.copy()
    falls = np.flatnonzero(clean.levels == 0)
    falls = falls[falls > 0]
    chosen = falls[rng.random(len(falls)) < share]
    times[chosen] += by_ps + np.round(rng.normal(0, 2000, len(chosen))).astype(np.int64)
    return Pin(times, clean.levels)


def held(planted: int, mask: int) -> Callable[[int, int], int]:
    """What the operand board takes in where an open contact leaves bits high from one cycle on."""
    return lambda cycle, bits: bits | mask if cycle >= planted else bits


def slow_store(first: int, cycles: int) -> tuple[UInt8, Int64]:
    """Levels of the crate whose store is slow and whose D01 is open, and the good cycle that each column is.

    A further wait has the number of the cycle that waits, so that a number stands there more than once.
    """
    planted, rng = CASES["waits"].planted_cycle, np.random.default_rng(42)
    longer = np.where(rng.random(2 * cycles) < 1 / 24, rng.integers(1, 4, 2 * cycles), 0).tolist()
    levels, number = waiting_words(MACHINE, first - 2, cycles + 4, longer.__getitem__, receiver=held(planted, 0b0010))
    levels[SIGNALS.index("D01"), number >= planted] = 1
    return levels, number


def waits() -> dict[str, bytes]:
    """Sampled rows at 24 MHz, sixteen channels; the suspect waits longer now and then."""
    cycles = 2000
    levels, _ = slow_store(-18, cycles)
    return {
        "good.csv.gz": sixteen(*side_pins(window(0, cycles), 41, 130_000)),
        "suspect.csv.gz": sixteen(*side_pins(levels, 42, 61_000, slower=SLOWER)),
        "sheet.csv": sheet(SIXTEEN, CHANNELS, {}, {"WAIT": "pulled high by whatever store is slow"}),
        "README.md": readme(
            "waits",
            "the contact of 7-B02 is open, so that its input reads high; wrong data follow. The further waits of the "
            "store are no fault, and every later cycle is still compared with its own. suspect.csv.gz begins 18 cycles "
            "before good.csv.gz; its clock is 0.2 % slower.",
        ),
    }


def once() -> dict[str, bytes]:
    """Sampled rows at 24 MHz, sixteen channels: short captures of many starts, one of which goes wrong."""
    case, cycles = CASES["once"], 320
    rng = np.random.default_rng(51)
    made = {}
    for seed, path in enumerate((*case.good, *case.suspect), start=500):
        faulty, south = path.name == case.planted_in, path in case.suspect
        # the first good capture begins at the machine's cycle 0, the others up to ten cycles from there
        first = 0 if path == case.good[0] else int(rng.integers(-10, 11))
        levels = window(first, cycles, receiver=held(case.planted_cycle, 0b0001) if faulty else None)
        if faulty:
            levels[SIGNALS.index("D00"), case.planted_cycle - first + 2 :] = 1
        first_ps = int(rng.integers(40_000, 160_000))
        made[path.relative_to(case.folder).as_posix()] = sixteen(
            *side_pins(levels, seed, first_ps, slower=SLOWER if south else 1.0)
        )
    return {
        **made,
        "sheet.csv": sheet(SIXTEEN, CHANNELS, {}, {"D00": "first finger from the end"}),
        "README.md": readme(
            "once",
            f"in {case.planted_in} alone the contact of 7-B01 opens, so that its input reads high to the end. The "
            "captures begin up to 10 cycles apart; the suspect's clock is 0.2 % slower.",
        ),
    }


def open_input() -> dict[str, bytes]:
    """Scope columns at 50 MS/s; from one cycle on the input of D01 is held by itself alone."""
    signals, names = ("MCLK", "STB", "READ", "D01"), ("CH1", "CH2", "CH3", "CH4")
    cycles, planted = 560, CASES["open"].planted_cycle

    def columns(first: int, seed: int, first_ps: int, faulty: bool) -> bytes:
        pins, stop_ps = side_pins(window(first, cycles), seed, first_ps, slower=SLOWER if faulty else 1.0)
        rng = np.random.default_rng(seed + 100)
        at = np.arange(stop_ps // 20_000, dtype=np.int64) * 20_000
        seen = {s: volts(pins[s], {}, at) for s in signals}
        if faulty:
            since = first_ps + round((planted - first + 0.6) * PERIOD_PS * SLOWER)
            # its neighbours are heard through the capacity between the wires
            heard = 0.03 * (seen["READ"] - seen["READ"].mean()) + 0.01 * (seen["STB"] - seen["STB"].mean())
            seen["D01"] = np.where(at < since, seen["D01"], 1.43 + heard)
        noisy = [seen[s] + rng.normal(0, 0.02, len(at)) for s in signals]
        return scope_columns(names, [np.round(v / 0.03) * 0.03 for v in noisy], 20)

    return {
        "good.csv.gz": columns(0, 61, 140_000, False),
        "suspect.csv.gz": columns(7, 62, 90_000, True),
        "sheet.csv": sheet(signals, names, {}, {"D01": "input of the operand register"}),
        "README.md": readme(
            "open",
            "the contact of 7-B02 opens, and its input rests near 1.43 V to the end, with a little of its neighbours. "
            "suspect.csv.gz begins 7 cycles behind good.csv.gz; its clock is 0.2 % slower.",
        ),
    }


def no_pull_up() -> dict[str, bytes]:
    """Scope columns at 50 MS/s; WAIT rises through nothing but what leaks."""
    signals, names = ("MCLK", "STB", "READ", "WAIT"), ("CH1", "CH2", "CH3", "CH4")
    cycles = 620

    def columns(first: int, seed: int, first_ps: int, faulty: bool) -> bytes:
        pins, stop_ps = side_pins(window(first, cycles), seed, first_ps, slower=SLOWER if faulty else 1.0)
        rng = np.random.default_rng(seed + 100)
        at = np.arange(stop_ps // 20_000, dtype=np.int64) * 20_000
        # 470 ohm and 60 pF on the good side; without the pull-up what is left takes five times as long
        slow_ns = {"WAIT": 145.0 if faulty else 28.0}
        seen = [volts(pins[s], {}, at, slow_ns.get(s, 7.0)) + rng.normal(0, 0.02, len(at)) for s in signals]
        return scope_columns(names, [np.round(v / 0.03) * 0.03 for v in seen], 20)

    return {
        "good.csv.gz": columns(0, 71, 140_000, False),
        "suspect.csv.gz": columns(11, 72, 90_000, True),
        "sheet.csv": sheet(signals, names, {}, {"WAIT": "open collector; one pull-up for all slots, in slot 4"}),
        "README.md": readme(
            "pullup",
            "the pull-up of WAIT is off the line, which rises five times as slowly through what is left of it. "
            "suspect.csv.gz begins 11 cycles behind good.csv.gz; its clock is 0.2 % slower.",
        ),
    }


def missed_setup() -> dict[str, bytes]:
    """Change rows in whole nanoseconds, six channels; two falls of ACK come just before the next edge."""
    signals, names = ("MCLK", "STB", "ACK", "READ", "D00", "D01"), tuple(f"P{i}" for i in range(6))
    case, cycles = CASES["setup"], 5000

    def rows(first: int, seed: int, first_ps: int, faulty: bool) -> bytes:
        pins, stop_ps = side_pins(window(first, cycles), seed, first_ps, slower=SLOWER if faulty else 1.0)
        if faulty:
            wanted = tuple(first_ps + (k - first) * PERIOD_PS * SLOWER for k in (case.planted_cycle, 4180))
            pins["ACK"] = barely(pins["ACK"], pins["MCLK"], wanted)
        return change_rows(names, [pins[s] for s in signals], stop_ps, 1000)

    return {
        "good.csv.gz": rows(0, 81, 120_000, False),
        "suspect.csv.gz": rows(14, 82, 75_000, True),
        "sheet.csv": sheet(signals, names, {}, {}, {"ACK": "7474", "D00": "74S174", "D01": "74S174"}),
        "README.md": readme(
            "setup",
            "two falls of ACK in 5000 cycles come 8 ns before the next active edge; the 7474 that takes it in needs "
            "20 ns. suspect.csv.gz begins 14 cycles behind good.csv.gz; its clock is 0.2 % slower.",
        ),
    }


def barely(clean: Pin, clock: Pin, wanted_ps: Sequence[float]) -> Pin:
    """The first fall from each time wanted on comes 8 ns before the next active edge."""
    times, rises = clean.times_ps.copy(), clock.times_ps[clock.levels == 1]
    for at in wanted_ps:
        k = int(np.flatnonzero((clean.levels == 0) & (clean.times_ps >= at))[0])
        times[k] = rises[rises.searchsorted(clean.times_ps[k], "right")] - 8_000
    return Pin(times, clean.levels)


def held_down() -> dict[str, bytes]:
    """Sampled rows at 24 MHz, sixteen channels; from one cycle on something in slot 7 holds D01 low."""
    planted, d01 = CASES["held"].planted_cycle, SIGNALS.index("D01")

    def rows(first: int, seed: int, first_ps: int, faulty: bool) -> bytes:
        def deaf(cycle: int, bits: int) -> int:
            return bits & 0b1101 if faulty and cycle >= planted else bits

        levels = window(first, 1400, receiver=deaf)
        if faulty:
            levels[d01, planted - first + 2 :] = 0
        return sixteen(*side_pins(levels, seed, first_ps, slower=SLOWER if faulty else 1.0))

    return {
        "good.csv.gz": rows(0, 61, 120_000, False),
        "suspect.csv.gz": rows(-6, 62, 75_000, True),
        "sheet.csv": sheet(SIXTEEN, CHANNELS, {}, {}),
        "pins.csv": (
            b"net,slot,pin,part,part_pin,direction,note\n"
            b"D01,6,B20,U3 74LS244,16,three-state,store board\n"
            b"D01,9,B09,U2 74LS04,1,in,panel board\n"
            b"D01,7,B02,U7 74181,23,in,operand board\n"
            b"GND,6,A36,,,supply,\nGND,7,A36,,,supply,\nGND,9,A36,,,supply,\n"
        ),
        "readings.csv": (
            b"from,to,ohms,side,read_on,by,note\n"
            b"6-B20,7-B02,0.2,good,3 Feb,R.,\n"
            b"6-B20,9-B09,0.2,good,3 Feb,R.,\n"
            b"7-B02,7-A36,open,good,3 Feb,R.,slot 7 empty\n"
            b"7-B02,7-A36,2.1k,good,3 Feb,R.,card in; red lead on B02\n"
            b"6-B20,7-B02,,suspect,,,\n"
            b"7-B02,7-A36,,suspect,,,slot 7 empty\n"
            b"7-B02,7-A36,,suspect,,,card in; red lead on B02\n"
        ),
        "README.md": readme(
            "held",
            "an input of U7 on the operand board in slot 7 is broken through and holds D01 low. The wire is sound, so "
            "6-B20 to 7-B02 reads 0.2 ohm as in the north crate; 7-B02 to 7-A36 reads open with the slot empty, and "
            "3 ohm with the card in, where the north crate reads 2.1 kohm. suspect.csv.gz begins 6 cycles before "
            "good.csv.gz; its clock is 0.2 % slower.",
        ),
    }


CLIP = (*SIXTEEN, *(f"SEL{k}" for k in range(8)))
CLIP_CHANNELS = tuple(f"L{i:02d}" for i in range(len(CLIP)))
CLIP_LEGS = {
    "ADDR00": 1, "ADDR01": 2, "ADDR02": 3, "RFSH": 4, "READ": 6, "SEL7": 7, **{f"SEL{k}": 15 - k for k in range(7)}
}  # fmt: skip
"""Which leg of a 74138 each net of the case is on; leg 5 is on ground."""


def clipped_pins(
    levels: UInt8, seed: int, first_ps: int, *, slower: float, deaf_from: int | None
) -> tuple[dict[str, Pin], int]:
    """The legs of the decoder by net; from column ``deaf_from`` on it takes its input C for high."""
    rng = np.random.default_rng(seed)
    edges = clock_edges_ps(first_ps, PERIOD_PS * slower, levels.shape[1] - 4, 400, rng)
    rows = dict(zip(SIGNALS, levels, strict=True))
    pins = crate_pins(rows, edges, PERIOD_PS * slower, 1500, 400, rng)
    third = rows["ADDR02"].copy()
    third[len(third) if deaf_from is None else deaf_from :] = 1
    code = rows["ADDR00"] + 2 * rows["ADDR01"] + 4 * third
    on = (rows["READ"] == 1) & (rows["RFSH"] == 0)
    for k in range(8):
        own = np.random.default_rng(seed + 10 + k)
        pins[f"SEL{k}"] = pin((~(on & (code == k))).astype(np.uint8), edges, (80_000, 84_000), 400, own)
    return pins, int(edges[levels.shape[1] - 2] + 0.3 * PERIOD_PS)


def clip() -> dict[str, bytes]:
    """Sampled rows at 24 MHz from a test clip on U14, and the clock."""

    def rows(first: int, seed: int, first_ps: int, faulty: bool) -> bytes:
        deaf = CASES["clip"].planted_cycle - first + 2 if faulty else None
        slower = SLOWER if faulty else 1.0
        pins, stop = clipped_pins(window(first, 900), seed, first_ps, slower=slower, deaf_from=deaf)
        return sampled_pins(CLIP_CHANNELS, [pins[s] for s in CLIP], stop, RATE_HZ)

    listed = ["channel,signal,slot,pin,active,family,bus,bit,driver,note"]
    for channel, net in zip(CLIP_CHANNELS, CLIP, strict=True):
        slot, leg = ("U14", str(CLIP_LEGS[net])) if net in CLIP_LEGS else ("7", PINS[net])
        driver = DRIVERS.get(net, f"U14-{leg}")
        active = "low" if net.startswith("SEL") or net in ACTIVE_LOW else "high"
        listed.append(f"{channel},{net},{slot},{leg},{active},74LS,,,{driver},")
    legs = ["net,slot,pin,part,part_pin,direction,note"]
    for net, at in CLIP_LEGS.items():
        legs.append(f"{net},,,U14 74LS138,{at},{'out' if net.startswith('SEL') else 'in'},")
        legs.append(
            f"{net},7,{PINS[net]},,,,"
            if net in PINS
            else f"{net},,,U20 74LS30,{(1, 2, 3, 4, 5, 6, 11, 12)[int(net[3])]},in,"
        )
    legs += ["GND,,,U14,5,in,", "GND,,,U14,8,supply,", "+5V,,,U14,16,supply,"]
    return {
        "good.csv.gz": rows(0, 71, 110_000, False),
        "suspect.csv.gz": rows(-9, 72, 85_000, True),
        "sheet.csv": ("\n".join(listed) + "\n").encode(),
        "pins.csv": ("\n".join(legs) + "\n").encode(),
        "README.md": readme(
            "clip",
            "the bond of input C, leg 3 of U14, is broken inside the chip from one cycle on, so that it reads high "
            "whatever ADDR02 does. "
            "suspect.csv.gz begins 9 cycles before good.csv.gz; its clock is 0.2 % slower.",
        ),
    }


def files() -> dict[str, bytes]:
    """Every file of every case by its path under the folder, nothing packed yet."""
    made = {
        "receiver": receiver(),
        "contact": contact(),
        "handshake": handshake(),
        "waits": waits(),
        "once": once(),
        "held": held_down(),
        "clip": clip(),
        "open": open_input(),
        "pullup": no_pull_up(),
        "setup": missed_setup(),
    }
    return {f"{case}/{name}": content for case, names in made.items() for name, content in names.items()}


def main(folder: Path) -> None:
    """Writes all files under ``folder``."""
    for name, content in files().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        # without name and time: alike on every run
        path.write_bytes(gzip.compress(content, 9, mtime=0) if path.suffix == ".gz" else content)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
