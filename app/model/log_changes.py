"""What the Log page does to a case, as changes that are kept and taken back as one. Nothing here imports Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from app.case.change import Change
from app.case.changes import Drop, Put, Together
from app.case.circuit_changes import AddReadings
from app.case.counted_readings import counted, lacking, of_entry, uncounted
from app.case.record import OpenCase, next_id
from app.case.values import CaseState, Entry, Figure, PartMove, Picture, Proof, Reading, StateStamp, now
from app.report.cautions import AT_THE_PINS

if TYPE_CHECKING:
    from app.model.session import Session
    from tracecore.compare.findings import Cause


def line_change(case: OpenCase, entry: Entry, pictures: Sequence[Picture] = (), *, counts: bool = False) -> Together:
    """A new line with the pictures that belong to it; its number and time are set here.

    With ``counts`` its ohms between two pins join the case's readings.
    """
    first = next_id(case.pictures)
    numbered = [replace(picture, id=first + i) for i, picture in enumerate(pictures)]
    line = replace(entry, id=next_id(case.entries), at=now(), pictures=(*entry.pictures, *(p.id for p in numbered)))
    words = "correct a log entry" if line.corrects is not None else "log entry"
    read = lacking(case.continuity, of_entry(line)) if counts and line.corrects is None else ()
    more = (AddReadings(read),) if read else ()
    return Together(words, (*(Put(picture) for picture in numbered), Put(line), *more))


def picture_change(case: OpenCase, entry: Entry, pictures: Sequence[Picture]) -> Change:
    """Pictures join an entry that is there; nothing of what it says is touched."""
    first = next_id(case.pictures)
    numbered = [replace(picture, id=first + i) for i, picture in enumerate(pictures)]
    joined = replace(entry, pictures=(*entry.pictures, *(picture.id for picture in numbered)))
    return Together("picture", (*(Put(picture) for picture in numbered), Put(joined)))


def reading_change(entry: Entry, reading: Reading, author: str = "", *, counts: bool = False) -> Change:
    """A reading joins an entry that is there; with ``counts`` it is one of the case's ohm readings too."""
    own: list[Change] = [Put(replace(entry, readings=(*entry.readings, reading)))]
    found = counted(reading, now()[:10], author) if counts else ()
    if found:
        own.append(AddReadings(found))
    return Together("reading", tuple(own))


def count_change(case: OpenCase, entry: Entry) -> Change | None:
    """The ohm readings of a line join those of the case; None where the case has them."""
    found = uncounted(case, entry)
    return AddReadings(found) if found else None


def part_changes(entry: Entry | None, author: str, part: str, *ways: tuple[str, str, str]) -> Change:
    """A part's moves, one row each way: each of ``ways`` is from, to and date code."""
    number = None if entry is None else entry.id
    at = now()
    moves = [PartMove(0, part, source, target, code, number, at, author) for source, target, code in ways]
    return Together("moved part", tuple(Put(move) for move in moves))


def proof_change(case: OpenCase, author: str, proof: Proof, because: tuple[int, ...] = ()) -> Change:
    """A result with what the captures after the repair prove."""
    text = f"{proof.diverging} of {proof.captures} captures diverge"
    line = Entry(0, "result", text, author, helped=not proof.diverging, because=because, proof=proof)
    return Together("proof line", line_change(case, line).changes)


def stamp_change(case: OpenCase, state: CaseState, author: str) -> Change:
    """Ticks the box of a state, or takes the tick away again."""
    stamped = [stamp for stamp in case.stamps if stamp.state == state]
    if stamped:
        return Drop(stamped[-1])
    return Put(StateStamp(0, state, now(), author))


def finding_line(session: Session, cause: Cause) -> Entry:
    """A likely cause as a suspected entry, with its evidence and its figure."""
    assert session.comparison is not None
    finding = session.comparison.signal(cause.signal)
    good, suspect = session.case.good.shown_capture, session.case.suspect.shown_capture
    place = f" at {finding.place}" if finding.place else ""
    cycle = cause.since_cycle
    probe = (f"Probe next: {cause.probe_next}", AT_THE_PINS) if cause.probe_next else ()
    shown = f"{cause.signal} {cause.fault_mode}{place}"
    said = (shown if cause.chip is not None else "", cause.summary, *cause.because, *probe)
    names = " against ".join(held.name for held in (good, suspect) if held is not None)
    return Entry(
        0,
        "suspected",
        cause.chip.heading if cause.chip is not None else shown,
        session.author,
        cycle=cycle,
        details="\n".join(sentence for sentence in said if sentence),
        figure=Figure(
            cause.signal,
            cycle or 0,
            names,
            good.key if good is not None else "",
            suspect.key if suspect is not None else "",
        ),
    )
