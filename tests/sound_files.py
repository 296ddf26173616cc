"""A capture as one of the files that instruments write, and what the readers make of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np

from demo_traces.instruments import HIGH_V, LOW_V, Pin, change_rows
from tracecore.capture import Capture, Int64, UInt8
from tracecore.export import export_capture
from tracecore.readers import read_capture


def through_file(capture: Capture, form: str, folder: Path, seed: int) -> Capture:
    """The same capture, written in a form of ``FORMS`` and read back; nets ``N00`` to ``N23`` are then called
    ``N[0]`` to ``N[23]``, as bits of a word are."""
    named = {(f"N[{int(s[1:])}]" if s[1:].isdigit() else s): t for s, t in capture.digital.items()}
    capture = Capture(capture.name, named, {}, capture.resolution_ps, "built")
    path = folder / f"{capture.name}.csv"
    if form in ("dump", "rows"):
        export_capture(capture, path, form)
    else:
        path.write_bytes(_WRITERS[form](capture, seed))
    return read_capture(path)


def _samples(capture: Capture) -> tuple[tuple[str, ...], Int64, UInt8]:
    """Names, the instants of all samples, and uint8[samples, channels]."""
    traces = capture.digital
    step = capture.resolution_ps
    at = np.arange(next(iter(traces.values())).stop_ps // step, dtype=np.int64)
    times = at * step
    return tuple(traces), times, np.stack([t.level_at(times) for t in traces.values()], axis=1)


def _sampled_rows(capture: Capture, seed: int) -> bytes:
    names, _, rows = _samples(capture)
    rate = f"; Samplerate: {1e6 / capture.resolution_ps:.9g} MHz\n{','.join(names)}\n"
    return (rate + "".join(",".join(map(str, row)) + "\n" for row in rows.tolist())).encode()


def _timed_rows(capture: Capture, seed: int) -> bytes:
    names, times, rows = _samples(capture)
    lines = [f"{at},{','.join(map(str, row))}\n" for at, row in zip(times.tolist(), rows.tolist(), strict=True)]
    return ("Time [ps]," + ",".join(names) + "\n" + "".join(lines)).encode()


def _words(capture: Capture, seed: int) -> bytes:
    """The nets as one word a sample, the rest as logic beside it."""
    names, _, rows = _samples(capture)
    bits = [i for i, name in enumerate(names) if name.startswith("N[")]
    rest = [i for i in range(len(names)) if i not in bits]
    weights = np.array([1 << int(names[i][2:-1]) for i in bits], np.int64)
    values = rows[:, bits].astype(np.int64) @ weights
    head = f"; Samplerate: {1e6 / capture.resolution_ps:.9g} MHz\nN[{len(bits) - 1}:0] (hex),"
    head += ",".join(names[i] for i in rest) + "\n"
    beside = rows[:, rest].tolist()
    lines = [f"{value:06X},{','.join(map(str, row))}\n" for value, row in zip(values.tolist(), beside, strict=True)]
    return (head + "".join(lines)).encode()


def _pins(capture: Capture) -> Mapping[str, Pin]:
    return {name: Pin(t.times_ps, t.levels) for name, t in capture.digital.items()}


def _change_rows(capture: Capture, seed: int) -> bytes:
    """Times rounded to whole nanoseconds, whatever the sample period; nothing says what that is."""
    pins, stop = _pins(capture), next(iter(capture.digital.values())).stop_ps
    whole = {s: Pin((p.times_ps + 500) // 1000 * 1000, p.levels) for s, p in pins.items()}
    return change_rows(tuple(whole), tuple(whole.values()), stop, 1000)


def _volts(capture: Capture, seed: int) -> bytes:
    """Volts at each sample, with 20 mV of noise."""
    names, times, rows = _samples(capture)
    rng = np.random.default_rng([80, seed])
    columns = [np.where(row == 1, HIGH_V, LOW_V) + rng.normal(0, 0.02, len(row)) for row in rows.T]
    cells = np.round(np.stack(columns, axis=1), 2).tolist()
    lines = [f"{at / 1000:.3f},{','.join(map(str, row))}\n" for at, row in zip(times.tolist(), cells, strict=True)]
    return ("Time (ns)," + ",".join(f"{name} (V)" for name in names) + "\n" + "".join(lines)).encode()


def _coarse_dump(capture: Capture, seed: int) -> bytes:
    """A value change dump with times in whole nanoseconds, and no word about the sample period."""
    codes = {name: chr(33 + i) for i, name in enumerate(capture.digital)}
    lines = ["$timescale 1 ns $end"]
    lines += [f"$var wire 1 {code} {name} $end" for name, code in codes.items()]
    lines += ["$enddefinitions $end"]
    changes: dict[int, list[str]] = {}
    for name, trace in capture.digital.items():
        for at, level in zip(trace.times_ps.tolist(), trace.levels.tolist(), strict=True):
            changes.setdefault((at + 500) // 1000, []).append(f"{level}{codes[name]}")
    for at in sorted(changes):
        lines += [f"#{at}", *changes[at]]
    lines.append(f"#{next(iter(capture.digital.values())).stop_ps // 1000}")
    return "\n".join([*lines, ""]).encode()


_WRITERS: dict[str, Callable[[Capture, int], bytes]] = {
    "sampled rows": _sampled_rows,
    "timed rows": _timed_rows,
    "words": _words,
    "change rows": _change_rows,
    "coarse dump": _coarse_dump,
    "volts": _volts,
}
FORMS = (*_WRITERS, "dump", "rows")
