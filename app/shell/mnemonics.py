"""One letter of each entry of a menu to be underlined, no letter twice, so that every menu is gone through by keys."""

from __future__ import annotations

from collections.abc import Sequence


def _wanted(text: str) -> list[int]:
    """Places of letters that may be underlined: first letters of words first, then all others."""
    letters = [at for at, letter in enumerate(text) if letter.isalnum() and letter.isascii()]
    first = [at for at in letters if at == 0 or not text[at - 1].isalnum()]
    return [*first, *(at for at in letters if at not in first)]


def with_mnemonics(texts: Sequence[str]) -> list[str]:
    """The texts with ``&`` before one letter each; a text for which no letter is left stays as it is.

    >>> with_mnemonics(["Open case…", "Open sheet…", "Quit"])
    ['&Open case…', 'Open &sheet…', '&Quit']
    """
    place: list[int | None] = [None] * len(texts)
    owner: dict[str, int] = {}

    def settle(row: int, tried: set[str]) -> bool:
        """Finds a letter for a row; one that has taken it looks for another (augmenting paths of a matching)."""
        for at in _wanted(texts[row]):
            letter = texts[row][at].lower()
            if letter in tried:
                continue
            tried.add(letter)
            if letter not in owner or settle(owner[letter], tried):
                owner[letter], place[row] = row, at
                return True
        return False

    for row in range(len(texts)):
        settle(row, set())
    return [text if at is None else f"{text[:at]}&{text[at:]}" for text, at in zip(texts, place, strict=True)]
