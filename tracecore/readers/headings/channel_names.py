"""Names of channels, of which none may stand twice: two of one name would be one channel, and the other lost."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from tracecore.errors import UnknownCapture


def free_name(name: str, taken: Collection[str]) -> str:
    """The name, or with a number behind it where it is taken.

    >>> free_name("A", {"A", "B"})
    'A (2)'
    """
    number, own = 1, name
    while own in taken:
        number += 1
        own = f"{name} ({number})"
    return own


def distinct(names: Iterable[str]) -> tuple[str, ...]:
    """Names of which none stands twice.

    >>> distinct(["A", "B", "A"])
    ('A', 'B', 'A (2)')
    """
    given: dict[str, None] = {}
    for name in names:
        given[free_name(name, given)] = None
    return tuple(given)


def check_distinct_bits(path: str, names: Sequence[str], do: str) -> None:
    """Raises UnknownCapture where words split into bits bear a name that stands already; ``do`` is what to do."""
    if len(set(names)) == len(names):
        return
    twice = next(name for name in names if names.count(name) > 1)
    raise UnknownCapture(
        path,
        found=f"two channels named {twice!r}",
        expected="names that differ once words are split into bits",
        do=do,
    )
