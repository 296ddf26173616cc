"""Captures to files that other programs open: a value change dump, or plain rows.

Read back, the logic of either is identical: transitions, end and resolution.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from tracecore.capture import Capture, Int64, UInt8, sorted_union
from tracecore.csv_cells import guarded
from tracecore.errors import RequestError
from tracecore.readers.headings.own_comment import Carried

FORMS = ("dump", "rows")
_SCOPE = "capture"
_AT_ONCE = 1 << 16
_PLAIN_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_$]*(\[\d+\])?")
_FIRST_CODE, _CODES = 33, 94
"""Identifier codes are made of the printable characters ! to ~ (IEEE Std 1364-2005, 18.2.1)."""


def export_capture(capture: Capture, path: str | Path, form: str) -> tuple[str, ...]:
    """Writes the logic of ``capture`` to ``path``; the answer says in sentences what is not in the file.

    ``form`` "dump" is a value change dump (IEEE Std 1364-2005, clause 18), "rows" plain CSV (RFC 4180) with a row
    for each time at which something changes, the heading ``time/ps`` and the names of the channels. A file of that
    name is replaced once all is written. Raises RequestError.
    """
    if form not in FORMS:
        raise RequestError(f"There is no file form {form!r}; take one of: {', '.join(FORMS)}.")
    _check(capture)
    pieces = _dump(capture) if form == "dump" else _rows(capture)
    target = Path(path)
    # a device or a pipe takes what is written; it is nothing to replace
    straight = target.exists() and not target.is_file()
    part = target if straight else target.with_name(target.name + ".part")
    try:
        with part.open("wb") as file:
            for piece in pieces:
                file.write(piece)
        if not straight:
            part.replace(target)
    except OSError as error:
        if not straight:
            part.unlink(missing_ok=True)
        raise RequestError(f"{target}: cannot be written ({error.strerror or error}). Choose another place.") from error
    if not capture.analog:
        return ()
    return (f"The volts of {', '.join(capture.analog)} are not in the file, which holds logic only.",)


def _check(capture: Capture) -> None:
    if not capture.digital:
        raise RequestError(f"{capture.name}: holds volts only; logic is what can be exported. Export a logic capture.")
    traces = capture.digital.values()
    if len({(t.start_ps, t.stop_ps) for t in traces}) > 1:
        raise RequestError(f"{capture.name}: its channels do not begin and end together, and a file cannot say so.")
    for name in capture.digital:
        if not name or name != name.strip() or not name.isprintable():
            raise RequestError(f"{capture.name}: the channel {name!r} cannot stand in a heading. Rename it.")


def _carried(capture: Capture, **more: object) -> str:
    stop = next(iter(capture.digital.values())).stop_ps
    return Carried(capture.resolution_ps, stop, **more).text()  # type: ignore[arg-type]


def _rows(capture: Capture) -> Iterator[bytes]:
    """A comment, the heading, a row for each time of a change; the last one marks the end."""
    yield f"# {_carried(capture)}\r\n".encode()
    yield ",".join(["time/ps", *(_quoted(guarded(name)) for name in capture.digital)]).encode() + b"\r\n"
    traces = list(capture.digital.values())
    times = sorted_union(*(t.times_ps for t in traces), np.array([traces[0].stop_ps], np.int64))
    letters = np.frombuffer(b"01X", np.uint8)
    for start in range(0, len(times), _AT_ONCE):
        part = times[start : start + _AT_ONCE]
        cells = np.full((len(part), 2 * len(traces) + 2), ord(","), np.uint8)
        cells[:, -2:] = np.frombuffer(b"\r\n", np.uint8)
        for column, trace in enumerate(traces):
            at = trace.times_ps.searchsorted(part, side="right") - 1
            cells[:, 2 * column + 1] = letters[trace.levels[at]]
        for first, last, digits in _by_width(part):
            yield np.concatenate([digits, cells[first:last]], axis=1).tobytes()


def _by_width(times: Int64) -> Iterator[tuple[int, int, UInt8]]:
    """Runs of sorted times that print equally wide: from, to, and their digits uint8[n, width] with a sign."""
    limits = [-(10**p) for p in range(18, 0, -1)] + [0] + [10**p for p in range(1, 19)]
    # -9 to -1 print narrower than -10, which is why the limits below zero lie one higher
    cuts = [0, *(int(times.searchsorted(x + 1 if x < 0 else x)) for x in limits), len(times)]
    for first, last in itertools.pairwise(cuts):
        if first == last:
            continue
        part = np.abs(times[first:last])
        width = len(str(int(part.max())))
        digits = np.empty((len(part), width), np.uint8)
        for place in range(width - 1, -1, -1):
            part, digit = np.divmod(part, 10)
            digits[:, place] = digit + 48
        if times[first] < 0:
            digits = np.concatenate([np.full((len(digits), 1), ord("-"), np.uint8), digits], axis=1)
        yield first, last, digits


def _quoted(name: str) -> str:
    """A cell by RFC 4180."""
    return '"' + name.replace('"', '""') + '"' if re.search(r'[",;]', name) else name


def _dump(capture: Capture) -> Iterator[bytes]:
    traces = list(capture.digital.values())
    start = traces[0].start_ps
    # the standard has no times below zero
    zero = min(start, 0)
    yield _declarations(capture, zero).encode()
    codes = [_code(i) for i in range(len(traces))]
    first = [f"{'01x'[int(t.levels[0])]}{code}\n" for t, code in zip(traces, codes, strict=True)]
    yield f"#{start - zero}\n$dumpvars\n{''.join(first)}$end\n".encode()
    yield from _changes([t.times_ps[1:] - zero for t in traces], [t.levels[1:] for t in traces], codes)
    if all(t.stop_ps != int(t.times_ps[-1]) for t in traces):
        yield f"#{traces[0].stop_ps - zero}\n".encode()


def _declarations(capture: Capture, zero: int) -> str:
    lines = [
        f"$comment {_carried(capture, zero_ps=zero, scope=_SCOPE)} $end",
        "$timescale 1 ps $end",
        f"$scope module {_SCOPE} $end",
    ]
    taken: set[str] = set()
    for i, name in enumerate(capture.digital):
        plain = name if _PLAIN_NAME.fullmatch(name) else re.sub(r"[^A-Za-z0-9_$]", "_", name)
        own = plain
        while plain in taken or (plain != name and plain in capture.digital):
            plain = f"{own}_{len(taken)}"
        taken.add(plain)
        if plain != name:
            lines.append(f"$comment Twinslot name {_code(i)} {_escaped(name)} $end")
        lines.append(f"$var wire 1 {_code(i)} {plain} $end")
    return "\n".join([*lines, "$upscope $end", "$enddefinitions $end", ""])


def _escaped(name: str) -> str:
    """A name as one word."""
    from urllib.parse import quote

    return quote(name, safe="()+-*/:;,.<>=!?&|~^#@[]{}'")


def _code(number: int) -> str:
    """The shortest identifier codes in turn."""
    text = chr(_FIRST_CODE + number % _CODES)
    return text if number < _CODES else _code(number // _CODES - 1) + text


def _changes(times: Sequence[Int64], levels: Sequence[UInt8], codes: Sequence[str]) -> Iterator[bytes]:
    """Changes of all channels by time, some thousand times at once so that memory stays small."""
    every = sorted_union(*times)
    done = [0] * len(times)
    for start in range(0, len(every), _AT_ONCE):
        part = every[start : start + _AT_ONCE]
        texts: list[tuple[Int64, UInt8]] = []
        for channel, (when, level) in enumerate(zip(times, levels, strict=True)):
            stop = int(when.searchsorted(part[-1], side="right"))
            row = part.searchsorted(when[done[channel] : stop])
            text = np.empty((len(row), 2 + len(codes[channel])), np.uint8)
            text[:, 0] = np.frombuffer(b"01x", np.uint8)[level[done[channel] : stop]]
            text[:, 1:] = np.frombuffer(codes[channel].encode() + b"\n", np.uint8)
            texts.append((row * (len(times) + 1) + channel + 1, text))
            done[channel] = stop
        yield _merged(part, texts, len(times) + 1)


def _merged(times: Int64, texts: Sequence[tuple[Int64, UInt8]], stride: int) -> bytes:
    """Time marks and changes as bytes in the order of their keys."""
    groups = list(texts)
    for first, last, digits in _by_width(times):
        mark = np.empty((last - first, digits.shape[1] + 2), np.uint8)
        mark[:, 0], mark[:, 1:-1], mark[:, -1] = ord("#"), digits, ord("\n")
        groups.append((np.arange(first, last) * stride, mark))
    keys = np.concatenate([key for key, _ in groups])
    widths = np.concatenate([np.full(len(key), text.shape[1], np.int64) for key, text in groups])
    order = np.argsort(keys, kind="stable")
    starts = np.empty(len(keys), np.int64)
    starts[order] = np.cumsum(widths[order]) - widths[order]
    out = np.empty(int(widths.sum()), np.uint8)
    at = 0
    for key, text in groups:
        begin = starts[at : at + len(key)]
        out[begin[:, None] + np.arange(text.shape[1])] = text
        at += len(key)
    return out.tobytes()
