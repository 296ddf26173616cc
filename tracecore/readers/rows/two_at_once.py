"""Two parts of the work at a time."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")


def two_at_once(work: Callable[[Item], Result], items: Iterable[Item]) -> Iterator[Result]:
    """What ``work`` makes of each item, in their order; a single one is done without another thread.

    >>> list(two_at_once(abs, [-1, 2, -3]))
    [1, 2, 3]
    """
    left = iter(items)
    first = list(itertools.islice(left, 2))
    if len(first) < 2:
        yield from map(work, first)
        return
    from concurrent.futures import ThreadPoolExecutor

    # numpy and the parser let go of the interpreter while they work, so two at once take half the time
    with ThreadPoolExecutor(2, "rows") as pool:
        waiting = [pool.submit(work, item) for item in first]
        for item in left:
            waiting.append(pool.submit(work, item))
            yield waiting.pop(0).result()
        for future in waiting:
            yield future.result()


def in_halves(work: Callable[[Sequence[Item]], Result], items: Sequence[Item]) -> list[Result]:
    """What ``work`` makes of each half of many small items, where a task for each would cost more than it does.

    >>> in_halves(sum, [1, 2, 3])
    [1, 5]
    """
    half = len(items) // 2
    return list(two_at_once(work, [part for part in (items[:half], items[half:]) if part]))
