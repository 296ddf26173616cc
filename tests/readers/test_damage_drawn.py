"""Many rows drawn for each shape and damaged anywhere: the right data, or an error that names a line."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.readers.damage_forms import FORMS, Form, read, verdict
from tests.readers.damage_heads import head_verdict
from tests.strategies import edited
from tracecore.errors import CaptureFileError


@st.composite
def damaged(draw: st.DrawFn) -> tuple[Form, bytes, bytes]:
    """A form, its rows, and the damaged file; the damage is in the heading or in the rows."""
    form = FORMS[draw(st.sampled_from(sorted(FORMS)))]
    random = draw(st.randoms(use_true_random=False))
    lines = []
    for i in range(draw(st.integers(5, 40))):
        cells = []
        for kind in form.kinds:
            if kind == "v":
                cells.append(f"{random.choice(['', '-'])}{random.randrange(2, 5000) / 1000:.3f}")
            elif kind == "h":
                cells.append(f"{form.prefix}{random.randrange(256):02X}")
            else:
                cells.append(form.time(i) if kind == "t" else "" if kind == "-" else random.choice("01"))
        lines.append(",".join(cells))
    rows = ("\n".join(lines) + "\n").encode()
    if draw(st.integers(0, 3)):
        return form, rows, form.head.encode() + draw(edited(rows, 0))
    head = draw(edited(form.head.encode(), 0))
    # a heading that is cut ends the file
    return form, rows, head if len(head) < len(form.head) - 1 else head + rows


def check_damaged(case: tuple[Form, bytes, bytes], packed: bool) -> None:
    form, rows, data = case
    if len(data) < len(form.head) - 1:
        said = "refused" if isinstance(read(data, packed), CaptureFileError) else "a heading without rows is read"
    elif data.startswith(form.head.encode()):
        said = verdict(form, data, packed)
    else:
        said = head_verdict(form, data[: len(data) - len(rows)], rows, packed)
    assert said in ("read", "refused")


@settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=160)
@given(damaged(), st.booleans())
def test_rows_drawn_and_damaged_are_the_right_data_or_an_error(case, packed):
    check_damaged(case, packed)


@pytest.mark.long
def test_rows_drawn_and_damaged_are_the_right_data_or_an_error_many_times(request):
    if "long" not in request.config.getoption("markexpr"):
        pytest.skip("takes minutes; asked for with -m long")
    many = settings(
        deadline=None,
        suppress_health_check=list(HealthCheck),
        max_examples=int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "20000")),
    )
    many(given(damaged(), st.booleans())(check_damaged))()
