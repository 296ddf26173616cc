"""Notices and outcomes as values: what holds of every row of their tables."""

from __future__ import annotations

import re

import pytest

from tracecore.notices import NOTICE_KINDS, WORST_FIRST, in_order, notice
from tracecore.outcome import EXIT_STATUS, WORD_OF, Outcome, Reason


@pytest.mark.parametrize("code", NOTICE_KINDS)
def test_each_row_is_fit_to_be_read(code: str) -> None:
    kind = NOTICE_KINDS[code]
    assert re.fullmatch(r"[a-z]+(_[a-z]+)*", code)
    assert kind.severity in WORST_FIRST
    for text in (kind.meaning, kind.example, kind.do):
        assert not text or text[-1] in ".?", text
        for sentence in re.split(r"(?<=[.?:;])\s", text):
            assert len(sentence.split()) <= 25, sentence
    if kind.severity != "info":
        assert kind.do, "what asks for a look says what to do"


def test_a_code_that_is_not_in_the_table_is_refused() -> None:
    with pytest.raises(KeyError):
        notice("no such code", "Something.")


def test_the_gravest_come_first_and_each_once() -> None:
    look = notice("no_lineup", "One.")
    told = in_order((look, notice("doubtful_lineup", "Two."), look))
    assert [own.text for own in told] == ["One.", "Two."]
    assert told[0].sentence.startswith("One. ")


def test_every_reason_has_its_word_and_status() -> None:
    assert set(WORD_OF) == set(Reason)
    for reason in Reason:
        assert Outcome(reason, "x").exit_status == EXIT_STATUS[WORD_OF[reason]]
    assert [r for r in Reason if Outcome(r, "x").exit_status == 0] == [Reason.ALL_AGREE]
