"""The kinds of fault are one enumeration, of signals and of the clock alike."""

from __future__ import annotations

import re
from typing import get_args

import pytest

from tracecore.compare.clock_faults import ClockFaultKind
from tracecore.compare.fault_kinds import FaultKind, kind_named


@pytest.mark.parametrize("kind", get_args(ClockFaultKind))
def test_what_a_clock_can_show_is_among_them(kind: str) -> None:
    assert FaultKind(kind).value == kind


@pytest.mark.parametrize("kind", FaultKind)
def test_each_kind_is_found_by_its_words_and_by_its_fixed_word(kind: FaultKind) -> None:
    assert re.fullmatch("[a-z_]+", kind.word)
    assert kind_named(kind.word) is kind
    assert kind_named(f" {kind.value.title()} ") is kind
    assert kind_named(f"{kind.value} by 83 ns") is kind


def test_a_word_that_only_begins_alike_is_no_kind() -> None:
    assert kind_named("lately") is None
    assert kind_named("") is None
