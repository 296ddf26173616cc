"""Names in a sentence: all of a few, the first and a count of many."""

from tracecore.name_lists import few_names


def test_a_few_names_stand_as_they_are() -> None:
    assert few_names([]) == ""
    assert few_names(["MCLK"]) == "MCLK"
    assert few_names(("D00", "D01", "D02"), 3) == "D00, D01, D02"


def test_of_many_the_others_are_counted() -> None:
    assert few_names((f"D{i}" for i in range(5)), 3) == "D0, D1, D2 and 2 more"
    assert few_names((f"D{i}" for i in range(5004)), 2) == "D0, D1 and 5\N{NARROW NO-BREAK SPACE}002 more"
