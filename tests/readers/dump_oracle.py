"""A value change dump read word by word, slowly and plainly (IEEE Std 1364-2005, 18.2), to check the fast reading."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

_UNITS_PS = {"s": 10**12, "ms": 10**9, "us": 10**6, "ns": 1000, "ps": 1, "fs": Fraction(1, 1000)}
_LOGIC = (
    *("wire", "tri", "tri0", "tri1", "triand", "trior", "trireg", "wand", "wor", "supply0", "supply1", "reg"),
    *("integer", "time", "parameter", "logic", "bit"),
)
_NO_LOGIC = ("real", "realtime", "event", "string")
_SECTIONS = ("$dumpvars", "$dumpall", "$dumpon", "$dumpoff")


class DoesNotFit(ValueError):
    """A word that the standard does not allow where it stands."""


@dataclass
class SlowDump:
    """``bits`` gives for each channel its code and which letter of a vector it is, from the front; ``changes`` the
    times in ps and the value of each code, as long as the variable is wide."""

    unit_ps: Fraction = Fraction(0)
    bits: dict[str, tuple[str, int]] = field(default_factory=dict)
    widths: dict[str, tuple[int, bool]] = field(default_factory=dict)
    changes: list[tuple[int, str, str]] = field(default_factory=list)
    times: list[int] = field(default_factory=list)

    def levels(self, channel: str) -> list[tuple[int, int]]:
        """(time in ps, level) of each change; the last of those at one time holds."""
        code, place = self.bits[channel]
        found = {time: value[place] for time, own, value in self.changes if own == code}
        return [(time, {"0": 0, "1": 1}.get(letter, 2)) for time, letter in found.items()]


def slow_dump_file(data: bytes) -> SlowDump | None:
    """None where something in the dump does not fit."""
    text = data.decode("latin-1")
    parted = re.search(r"\$enddefinitions\s+\$end(?!\S)", text)
    dump = SlowDump()
    try:
        if parted is None:
            raise DoesNotFit("no end of the declarations")
        _declarations(text[: parted.end()].split(), dump)
        words = [word for word in re.split(r"[\t-\r ]+", text[parted.end() :]) if word]
        _values(words, dump, closed=text[-1:] in " \t\r\n")
    except (DoesNotFit, IndexError):
        return None
    return dump


def _declarations(words: list[str], dump: SlowDump) -> None:
    at, scopes = 0, []
    while True:
        keyword, end = words[at], at + 1
        if keyword not in (
            "$comment",
            "$date",
            "$enddefinitions",
            "$scope",
            "$timescale",
            "$upscope",
            "$var",
            "$version",
        ):
            raise DoesNotFit(keyword)
        while words[end] != "$end":
            if words[end].startswith("$") and words[end] in ("$comment", "$scope", "$timescale", "$upscope", "$var"):
                raise DoesNotFit(words[end])
            end += 1
        own, at = words[at + 1 : end], end + 1
        if keyword == "$timescale":
            _timescale("".join(own), dump)
        elif keyword == "$scope":
            _, name = own if len(own) == 2 else ("", None)
            if name is None:
                raise DoesNotFit(keyword)
            scopes.append(name)
        elif keyword == "$upscope":
            if own or not scopes:
                raise DoesNotFit(keyword)
            scopes.pop()
        elif keyword == "$var":
            _variable(own, scopes, dump)
        elif keyword == "$enddefinitions":
            if not dump.bits or not dump.unit_ps:
                raise DoesNotFit("no variable or no time scale")
            return


def _timescale(text: str, dump: SlowDump) -> None:
    number = text.rstrip("smunpf")
    if number not in ("1", "10", "100") or text[len(number) :] not in _UNITS_PS or dump.unit_ps:
        raise DoesNotFit(text)
    dump.unit_ps = Fraction(int(number) * _UNITS_PS[text[len(number) :]])


def _variable(words: list[str], scopes: list[str], dump: SlowDump) -> None:
    kind, width, code, name = words[0], words[1], words[2], "".join(words[3:])
    if kind not in _LOGIC + _NO_LOGIC or not width.isdecimal() or not int(width) or not name:
        raise DoesNotFit(kind)
    size = int(width)
    if dump.widths.setdefault(code, (size, kind in _LOGIC)) != (size, kind in _LOGIC):
        raise DoesNotFit(code)
    if kind in _NO_LOGIC:
        return
    for place, full in enumerate(_bit_names(".".join([*scopes, name]), size)):
        number = 1
        while (full if number == 1 else f"{full} ({number})") in dump.bits:
            number += 1
        dump.bits[full if number == 1 else f"{full} ({number})"] = code, place


def _bit_names(name: str, size: int) -> list[str]:
    front, _, behind = name.partition("[")
    first, mark, last = behind.removesuffix("]").partition(":")
    if front and behind.endswith("]") and mark and _whole(first) and _whole(last):
        step = 1 if int(last) >= int(first) else -1
        numbers = list(range(int(first), int(last) + step, step))
        if len(numbers) != size:
            raise DoesNotFit(name)
        return [f"{front}[{number}]" for number in numbers]
    return [name] if size == 1 else [f"{name}[{i}]" for i in range(size - 1, -1, -1)]


def _whole(text: str) -> bool:
    return text.removeprefix("-").isdecimal()


def _values(words: list[str], dump: SlowDump, *, closed: bool) -> None:
    words = words if closed else _without_cut(words, dump)
    section, at = False, 0
    while at < len(words):
        word, at = words[at], at + 1
        letter = word[0]
        if word == "$comment":
            at = words.index("$end", at) + 1 if "$end" in words[at:] else len(words) + 1
            if at > len(words):
                raise DoesNotFit(word)
        elif letter == "#":
            _time(word[1:], dump)
        elif word in _SECTIONS and not section:
            section = True
        elif word == "$end" and section:
            section = False
        elif letter in "01xXzZ" and dump.widths.get(word[1:], (0, False)) == (1, True):
            _change(dump, word[1:], letter)
        elif letter in "bBrRsS":
            if at == len(words):
                return  # the code may be cut off
            _vector(dump, word, words[at])
            at += 1
        else:
            raise DoesNotFit(word)


def _time(digits: str, dump: SlowDump) -> None:
    if not digits or not digits.isascii() or not digits.isdecimal() or len(digits) > 18:
        raise DoesNotFit(digits)
    time = int(int(digits) * dump.unit_ps + Fraction(1, 2))
    if time >= 10**18 or (dump.times and time < dump.times[-1]):
        raise DoesNotFit(digits)
    dump.times.append(time)


def _change(dump: SlowDump, code: str, value: str) -> None:
    dump.changes.append((dump.times[-1] if dump.times else 0, code, value))


def _vector(dump: SlowDump, word: str, code: str) -> None:
    if code not in dump.widths:
        raise DoesNotFit(code)
    width, logic = dump.widths[code]
    if not logic:
        return
    digits = word[1:]
    if word[0] not in "bB" or not digits or len(digits) > width or not set(digits) <= set("01xXzZ"):
        raise DoesNotFit(word)
    _change(dump, code, digits.rjust(width, "0" if digits[0] in "01" else "x"))


def _without_cut(words: list[str], dump: SlowDump) -> list[str]:
    """Without a last word that may go on, and the value before it where that word is its code."""
    if not words or words[-1] == "$end":
        return words
    valued = len(words) > 1 and words[-2][0] in "bBrRsS"
    last = words[-1] if valued else words[-1][1:]
    longer = [code for code in dump.widths if code.startswith(last)]
    if longer == [last] and (words[-2][0] in "bB" if valued else words[-1][0] in "01xXzZ"):
        return words
    return words[: -2 if valued else -1]
