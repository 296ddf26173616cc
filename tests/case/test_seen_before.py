"""Earlier cases alike, the search over a folder, and what a proof line says."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from app.case.changes import NameCase, Put, SetUnit
from app.case.errors import CaseError
from app.case.proof_words import by_count_alone, lacks_for_verified, proof_sentence
from app.case.record import OpenCase
from app.case.seen_before import how_it_ended, points_alike, search_cases, seen_before, traits_of
from app.case.store import CaseStore
from app.case.values import Entry, PartMove, Proof, StateStamp, Unit, Unlike
from tracecore.compare.fault_kinds import FaultKind, kind_named


def record(*causes: tuple[str, str]) -> str:
    """A comparison's record as far as the search reads it."""
    return json.dumps({"causes": [{"signal": signal, "fault_mode": mode} for signal, mode in causes]})


def keep_case(path: Path, title: str, changes: tuple, answer: str = "") -> OpenCase:
    """A closed case file."""
    store = CaseStore.open(path, author="M.")
    case = store.read()
    for change in (NameCase(title, path.stem), *changes):
        case = change.applied(case)
    store.keep("fill", "M.", case)
    if answer:
        store.save_comparison("question", answer)
    store.close()
    return case


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Case 6: slot 7, 7474, D07 stuck low. Case 9: slot 3, a contact. Case 10 has nothing but a title."""
    keep_case(
        tmp_path / "6.twinslot",
        "South crate halts on store",
        (
            SetUnit("suspect", Unit("south crate", slot="7")),
            Put(Entry(0, "seen", "Halts on the second store", "M.", "2024-11-02T10:00:00+01:00")),
            Put(Entry(0, "done", "7474 exchanged at U15", "M.", "2024-11-09T10:00:00+01:00")),
            Put(PartMove(0, "7474", "donor board", "slot 7, U15", "7338", 2)),
            Put(StateStamp(0, "repaired", "2024-11-09T11:00:00+01:00", "M.")),
        ),
        record(("D07", "stuck low")),
    )
    keep_case(
        tmp_path / "9.twinslot",
        "Wrong sums when warm",
        (Put(Entry(0, "measured", "Contact of 3-B11 reads 40 ohm", "R.", "2025-02-01T10:00:00+01:00")),),
        record(("D02", "weak low 1.4 V")),
    )
    keep_case(tmp_path / "10.twinslot", "Nothing known yet", ())
    return tmp_path


MINE = replace(
    OpenCase(identity="mine", title="South crate stops at the third fetch"),
    suspect_unit=Unit("south crate", slot="07"),
    parts=(PartMove(1, "7474", "donor board", "slot 7, U14"),),
)


def test_the_case_alike_comes_with_its_reasons(folder: Path) -> None:
    seen = seen_before(MINE, record(("D03", "stuck low")), [folder])
    assert [case.path.name for case in seen.cases] == ["6.twinslot"]
    assert (seen.looked, seen.skipped) == (3, ())
    six = seen.cases[0]
    assert [(p.alike, p.words) for p in six.points] == [
        (True, "same slot, 7"),
        (True, "same fault mode, stuck low"),
        (True, "same part, 7474"),
        (False, "other signal: D07"),
    ]
    assert six.alike == 3
    assert six.named == "Case 6 · South crate halts on store"
    assert six.ended == "repaired: 7474 exchanged at U15"


def test_one_point_is_not_enough_and_not_alike_is_remembered(folder: Path) -> None:
    plain = replace(MINE, parts=())
    assert seen_before(plain, "", [folder]).cases == ()
    six = seen_before(MINE, record(("D03", "stuck low")), [folder]).cases[0]
    told = replace(MINE, unlike=(Unlike(1, six.identity),))
    assert seen_before(told, record(("D03", "stuck low")), [folder]).cases == ()


def test_the_open_case_itself_and_busy_or_damaged_ones_are_left_out(folder: Path) -> None:
    held = CaseStore.open(folder / "9.twinslot")
    held.read()
    (folder / "11.twinslot").write_bytes(b"this is no case, only so many bytes" * 400)
    before = {path.name: path.read_bytes() for path in folder.glob("*.twinslot") if path.name != "9.twinslot"}
    seen = seen_before(MINE, record(("D03", "stuck low")), [folder, folder], own=folder / "6.twinslot")
    assert seen.cases == ()
    assert seen.looked == 1
    assert sorted(sentence.split(":")[0].rsplit("/")[-1] for sentence in seen.skipped) == [
        "11.twinslot",
        "9.twinslot",
    ]
    held.keep("go on", "R.", replace(held.read(), title="Still mine"))
    held.close()
    assert {name: (folder / name).read_bytes() for name in before} == before
    assert sorted(path.name for path in folder.iterdir()) == sorted([*before, "9.twinslot"])


def test_a_looked_at_case_can_be_opened_by_its_owner_meanwhile(folder: Path) -> None:
    seen_before(MINE, "", [folder])
    store = CaseStore.open(folder / "6.twinslot")
    assert not store.read_only
    store.close()


@pytest.mark.parametrize(
    ("words", "traits", "found", "reason"),
    [
        ("second store", {}, ["6"], "entry 1: Halts on the second store"),
        ("u15", {}, ["6"], "entry 2: 7474 exchanged at U15"),
        ("", {"slot": "7"}, ["6"], "slot 7"),
        ("", {"slot": "3"}, ["9"], "slot 3"),
        ("", {"part": "7474"}, ["6"], "part 7474"),
        ("", {"mode": "weak low"}, ["9"], "fault mode weak low"),
        ("warm", {"part": "7474"}, [], ""),
        ("", {}, [], ""),
    ],
)
def test_the_search_names_its_reasons(folder: Path, words: str, traits: dict, found: list[str], reason: str) -> None:
    hits = search_cases(folder, words, **traits)
    assert [hit.path.stem for hit in hits.hits] == found
    assert hits.looked == 3
    if found:
        assert reason in "\n".join(hits.hits[0].reasons)


def test_a_folder_that_is_not_there_holds_no_case(tmp_path: Path) -> None:
    assert search_cases(tmp_path / "gone", "word").looked == 0


def test_a_stop_is_heard_between_two_files(folder: Path) -> None:
    class Stopped(Exception):
        pass

    def tell(share: float, words: str) -> None:
        if share > 0:
            raise Stopped

    with pytest.raises(Stopped):
        seen_before(MINE, "", [folder], tell=tell)


def test_traits_come_from_texts_pins_and_moves_too() -> None:
    case = replace(
        OpenCase(title="Stops"),
        entries=(Entry(1, "measured", "6-B22 to 7-B04: 180 ohm; the 74LS74 gets warm"),),
    )
    traits = traits_of(case, record(("D03", "late by 83 ns")))
    assert traits.slots == {"6", "7"}
    assert traits.parts == {"74LS74"}
    assert traits.modes == {"late"}
    assert kind_named("late by 170 ns") is kind_named("late by 83 ns") is FaultKind.LATE
    assert traits_of(OpenCase(), "no record").modes == frozenset()
    assert points_alike(traits, traits_of(OpenCase())) == ()


def test_a_proof_with_a_divergence_proves_nothing() -> None:
    assert proof_sentence(Proof(0, 300)) == ("0 of 300 captures diverge; with 95 % confidence fewer than 1.0 % would.")
    assert "nothing is proved" in proof_sentence(Proof(2, 300))


def test_verified_needs_a_standing_proof() -> None:
    case = OpenCase()
    assert "needs a proof line" in lacks_for_verified(case)
    proved = replace(case, entries=(Entry(1, "result", "Proof", proof=Proof(0, 20)),))
    assert lacks_for_verified(proved) == ""
    corrected = replace(proved, entries=(*proved.entries, Entry(2, "result", "Counted wrong", corrects=1)))
    assert "needs a proof line" in lacks_for_verified(corrected)
    diverging = replace(case, entries=(Entry(1, "result", "Proof", proof=Proof(1, 20)),))
    assert "1 of 20 captures diverge" in lacks_for_verified(diverging)


def test_verified_by_a_count_alone_says_so() -> None:
    stamped = StateStamp(1, "verified", "2026-02-10T17:50:00+01:00", "R.")
    case = OpenCase(entries=(Entry(1, "result", "Proof", proof=Proof(0, 40)),), stamps=(stamped,))
    assert by_count_alone(case) == "verified by a typed count: its 40 captures are not in the case"
    assert how_it_ended(case).startswith("verified by a typed count")
    assert by_count_alone(replace(case, stamps=())) == ""


def test_looking_only_does_not_make_a_case(tmp_path: Path) -> None:
    with pytest.raises(CaseError):
        CaseStore.open(tmp_path / "new.twinslot", make=False, look_only=True)
    assert not list(tmp_path.iterdir())
