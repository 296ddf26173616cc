"""Earlier cases that are like this one, or that hold certain words. Nothing is changed and no file is held."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from app.case.errors import CaseError
from app.case.proof_words import by_count_alone, standing_proof
from app.case.record import OpenCase
from app.case.store import SUFFIX, CaseStore
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.compare.fault_kinds import kind_named
from tracecore.name_lists import few_names

Tell = Callable[[float, str], None]
FEWEST_ALIKE, FEWEST_WORDS = 2, 2
"""Cases alike in fewer points are not offered: one slot holds many faults. One word shared says nothing."""
_TTL_PART = re.compile(r"\b(?:54|74)[A-Z]{0,4}\d{2,3}\b")
_SLOT = re.compile(r"\bslot (\w+)", re.IGNORECASE)
_PIN = re.compile(r"\b(\d{1,2})-[A-Z]{1,2}\d{1,2}\b")
_WORD = re.compile(r"[^\W\d_]{4,}")
_COMMON = frozenset(
    {"about", "after", "again", "also", "before", "case", "cold", "could", "crate", "does", "down", "first", "from"}
    | {"good", "have", "into", "like", "machine", "more", "north", "only", "over", "pair", "part", "same", "slot"}
    | {"south", "still", "stops", "such", "than", "that", "then", "there", "they", "this", "very", "warm", "were"}
    | {"what", "when", "where", "which", "while", "with", "would", "capture", "captures", "cycle", "cycles", "diverge"}
    | {"board", "done", "exchanged", "measured", "moves", "once", "reads", "stays", "taken", "times", "wire", "wrong"}
)
"""Words that say nothing of a fault: plain ones, and those of every case."""


@dataclass(frozen=True, slots=True)
class Traits:
    """What a case is known by. Fault modes are without their figures, so that two delays are alike."""

    slots: frozenset[str] = frozenset()
    parts: frozenset[str] = frozenset()
    modes: frozenset[str] = frozenset()
    signals: frozenset[str] = frozenset()
    words: frozenset[str] = frozenset()


POINTS: tuple[tuple[str, str], ...] = (
    ("slots", "slot"),
    ("modes", "fault mode"),
    ("parts", "part"),
    ("signals", "signal"),
    ("words", "words"),
)
"""The points in which two cases are held against one another: a trait, and its name in words."""


@dataclass(frozen=True, slots=True)
class Point:
    """One point: alike or not, and why, in a few words."""

    alike: bool
    words: str


@dataclass(frozen=True, slots=True)
class SeenCase:
    """An earlier case and the points in which it is like the open one."""

    path: Path
    identity: str
    named: str
    opened_at: str
    ended: str
    points: tuple[Point, ...]

    @property
    def alike(self) -> int:
        """In how many points."""
        return sum(point.alike for point in self.points)


@dataclass(frozen=True, slots=True)
class Seen:
    """The answer: cases alike, most alike first; how many were looked at; a sentence for each that was skipped."""

    cases: tuple[SeenCase, ...] = ()
    looked: int = 0
    skipped: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Hit:
    """A case that answers a search, and the reasons."""

    path: Path
    named: str
    opened_at: str
    state: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Hits:
    """All hits by path, how many cases were looked at, and a sentence for each that was skipped."""

    hits: tuple[Hit, ...] = ()
    looked: int = 0
    skipped: tuple[str, ...] = ()


@dataclass(slots=True)
class _Looked:
    """What was read from a folder."""

    cases: list[tuple[Path, OpenCase, str]] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)


def traits_of(case: OpenCase, record: str = "") -> Traits:
    """What a case is known by; ``record`` is the JSON text of its last comparison, or empty."""
    causes = _causes(record)
    signals = {cause["signal"] for cause in causes}
    texts = [case.title, *(f"{entry.text} {entry.details}" for entry in case.entries)]
    moved = " ".join(f"{move.source} {move.target}" for move in case.parts)
    slots = {unit.slot for unit in (case.good_unit, case.suspect_unit)} | _slots_of_signals(case.sheet, signals)
    for text in (*texts, moved):
        slots |= {*_SLOT.findall(text), *_PIN.findall(text)}
    parts = {move.part for move in case.parts} | {part for text in texts for part in _TTL_PART.findall(text)}
    return Traits(
        _clean(slots),
        _clean(parts),
        _clean(_kind_words(cause) for cause in causes),
        _clean(signals),
        frozenset(word for text in texts for word in _words(text)),
    )


def _kind_words(cause: Mapping[str, str]) -> str:
    """How the kind of a kept cause is worded. A record of an older version names it in words only, with figures."""
    kind = kind_named(cause["fault_kind"] or cause["fault_mode"])
    return "" if kind is None else kind.value


def _causes(record: str) -> list[dict[str, str]]:
    """The causes of a comparison's record; none where the text is not one."""
    try:
        found = json.loads(record)["causes"] if record else []
        wanted = ("signal", "fault_mode", "fault_kind")
        return [{key: str(cause.get(key) or "") for key in wanted} for cause in found]
    except (ValueError, KeyError, TypeError, AttributeError):
        return []


def _slots_of_signals(sheet: ProbeSheet, signals: set[str]) -> set[str]:
    return {probe.slot for probe in sheet.probes if probe.signal in signals}


def _clean(names: Iterable[str]) -> frozenset[str]:
    return frozenset(name.strip().lstrip("0") or name.strip() for name in names if name.strip())


def _words(text: str) -> set[str]:
    return {word for word in (w.casefold() for w in _WORD.findall(text)) if word not in _COMMON}


def points_alike(mine: Traits, theirs: Traits) -> tuple[Point, ...]:
    """The points in which two cases can be held against one another, alike ones first.

    >>> points_alike(Traits(slots=frozenset({"7"})), Traits(slots=frozenset({"7", "9"})))
    (Point(alike=True, words='same slot, 7'),)
    """
    found = []
    for trait, name in POINTS:
        own, other = getattr(mine, trait), getattr(theirs, trait)
        shared = sorted(own & other)
        if len(shared) >= (FEWEST_WORDS if name == "words" else 1):
            found.append(
                Point(
                    True,
                    (f"same {name}, " if name != "words" else "words: ") + few_names(shared, 3),
                )
            )
        elif own and other and name != "words":
            found.append(Point(False, f"other {name}: {few_names(sorted(other), 3)}"))
    return tuple(sorted(found, key=lambda point: not point.alike))


def how_it_ended(case: OpenCase) -> str:
    """The state of a case and what was done last, in a few words."""
    corrected = {entry.corrects for entry in case.entries}
    done = [entry for entry in case.entries if entry.kind == "done" and entry.id not in corrected]
    proved = standing_proof(case)
    last = f": {done[-1].text}" if done else ""
    return f"{by_count_alone(case) or case.state}{last}" + (
        "" if proved is None or case.state == "verified" else " (with a proof line)"
    )


def seen_before(
    case: OpenCase, record: str, folders: Iterable[Path], own: Path | None = None, tell: Tell | None = None
) -> Seen:
    """Cases of some folders that are like ``case``, but not itself nor those that somebody called not alike.

    ``own`` is the open case's file. A file that is busy, damaged or too new is skipped and named in the answer.
    """
    unlike = {note.case for note in case.unlike} | {case.identity}
    looked = _look(folders, own, tell)
    mine = traits_of(case, record)
    found: dict[str, SeenCase] = {}
    for path, other, text in looked.cases:
        points = points_alike(mine, traits_of(other, text))
        if other.identity in unlike or sum(point.alike for point in points) < FEWEST_ALIKE:
            continue
        found.setdefault(
            other.identity,
            SeenCase(path, other.identity, other.named, other.opened_at, how_it_ended(other), points),
        )
    best = sorted(found.values(), key=lambda seen: seen.opened_at, reverse=True)
    return Seen(tuple(sorted(best, key=lambda seen: -seen.alike)), len(looked.cases), tuple(looked.skipped))


def search_cases(
    folder: str | Path,
    words: str = "",
    *,
    slot: str = "",
    part: str = "",
    mode: str = "",
    own: Path | None = None,
    tell: Tell | None = None,
) -> Hits:
    """Cases of a folder in which all that was given is found; each hit says where.

    ``words`` are looked for each by itself, in title, log, marks and moved parts, whatever their case of letters.
    ``own`` is the open case's file, which is left out.
    """
    looked = _look([Path(folder)], own, tell)
    hits = []
    for path, case, record in looked.cases:
        traits = traits_of(case, record)
        asked = (
            *((word, _where(case, word)) for word in words.split()),
            *((name, _trait(name, wanted, have)) for name, wanted, have in _wanted(traits, slot, part, mode)),
        )
        if asked and all(reason for _, reason in asked):
            hits.append(
                Hit(path, case.named, case.opened_at, case.state, tuple(dict.fromkeys(reason for _, reason in asked)))
            )
    return Hits(tuple(hits), len(looked.cases), tuple(looked.skipped))


def _wanted(traits: Traits, slot: str, part: str, mode: str) -> list[tuple[str, str, frozenset[str]]]:
    rows = [("slot", slot, traits.slots), ("part", part, traits.parts), ("fault mode", mode, traits.modes)]
    return [row for row in rows if row[1]]


def _trait(name: str, wanted: str, have: frozenset[str]) -> str:
    kind = kind_named(wanted) if name == "fault mode" else None
    plain = (kind.value if kind is not None else wanted.strip().lstrip("0") or wanted).casefold()
    found = [value for value in sorted(have) if value.casefold() == plain]
    return f"{name} {found[0]}" if found else ""


def _where(case: OpenCase, word: str) -> str:
    """Where a word stands first, in a few words; empty where it stands nowhere."""
    places = [("title", case.title)]
    places += [(f"entry {entry.id}", f"{entry.text} {entry.details}") for entry in case.entries]
    places += [(f"mark {mark.id}", mark.note) for mark in case.marks]
    places += [("moved part", f"{move.part} {move.source} {move.target} {move.date_code}") for move in case.parts]
    for place, text in places:
        if word.casefold() in text.casefold():
            return f"{place}: {' '.join(text.split())}"
    return ""


def _look(folders: Iterable[Path], own: Path | None, tell: Tell | None) -> _Looked:
    looked = _Looked()
    paths = {path.resolve(): path for folder in folders for path in _cases_in(folder)}
    if own is not None:
        # the open case holds its own file: a second look at it would only find it busy
        paths.pop(own.resolve(), None)
    for i, path in enumerate(paths.values()):
        if tell:
            tell(i / len(paths), f"looking into {path.name}")
        try:
            case, record = _read(path)
            looked.cases.append((path, case, record))
            if case.unread:
                looked.skipped.append(f"{path}: {case.unread[0]}. It was looked through without that.")
        except CaseError as error:
            looked.skipped.append(str(error))
    return looked


def _cases_in(folder: Path) -> list[Path]:
    return sorted(path for path in folder.glob(f"*{SUFFIX}") if path.is_file()) if folder.is_dir() else []


def _read(path: Path) -> tuple[OpenCase, str]:
    """A case and the record of its last comparison, from a file that is only looked at."""
    store = CaseStore.open(path, make=False, look_only=True)
    try:
        case = store.read()
        answers = store.comparisons()
    finally:
        store.close()
    return case, answers[-1].record if answers else ""
