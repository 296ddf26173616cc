"""What makes a chip right, in a sentence: of each kind of explanation, with the nets' names and without."""

import pytest

from tracecore.circuit.parts.explanation_words import what_fits
from tracecore.circuit.parts.explanations import Explanation


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        (Explanation("dead input", (3,), ("C",), 1), "All of it fits if leg 3 (C) reads high, whatever its net does."),
        (Explanation("stuck output", (8,), ("Y",), 0), "All of it fits if leg 8 (Y) is held low."),
        (Explanation("joined outputs", (3, 6), ("Y1", "Y2")), "All of it fits if legs 3 (Y1) and 6 (Y2) are joined."),
        (
            Explanation("late output", (3,), ("Y1",), late_ps=66_000),
            "All of it fits if leg 3 (Y1) may take up to 66 ns, more than the data sheet allows.",
        ),
        (
            Explanation("swapped leads", (12, 14), ("Y3", "Y1")),
            "All of it fits if the leads of legs 12 (Y3) and 14 (Y1) are exchanged.",
        ),
        (
            Explanation("swapped leads", rotated=True),
            "All of it fits if the clip sits the wrong way round, or a leg aside.",
        ),
        (Explanation("other part", number="7402"), "All of it fits if it is a 7402."),
    ],
)
def test_each_kind_has_its_sentence(told: Explanation, sentence: str) -> None:
    assert what_fits(told) == sentence


def test_nets_stand_in_the_place_of_legs_names_and_the_start_is_told() -> None:
    told = Explanation("dead input", (3,), ("C",), 1)
    assert what_fits(told, {3: "ADDR02"}, "from cycle 307 on") == (
        "All of it fits from cycle 307 on if leg 3 (C) reads high, whatever ADDR02 does."
    )
    joined = Explanation("joined outputs", (3, 6), ("Y1", "Y2"))
    assert "legs 3 (STB) and 6 (Y2) are joined" in what_fits(joined, {3: "STB"})
