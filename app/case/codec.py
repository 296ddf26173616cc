"""Frozen values as JSON text and back; every value is held against its type where it enters.

A field that a text lacks takes its default, and one that a value does not know is left out, so that a file written
by an older version is read without a word about it. What is there must be of its type: a case may come from anybody.
"""

from __future__ import annotations

import json
import math
import types
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from tracecore.errors import TwinslotError

Value = TypeVar("Value")
_WORDS = {str: "text", int: "a whole number", float: "a number", bool: "yes or no", type(None): "nothing"}
_LARGEST = 2**63
"""Whole numbers stay within what the file's database and numpy hold."""


def encode(value: Any) -> str:
    """The JSON text of a value; equal values give equal text."""
    text = json.dumps(_plain(value), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    # a path may hold bytes that are no text; JSON has a code for each, which comes back as it was
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def decode(kind: type[Value], text: str) -> Value:
    """The value of that kind. Raises ValueError, with the field that is wrong, where the text does not hold one."""
    try:
        built = _built(kind, json.loads(text), "")
    except RecursionError as error:
        raise ValueError("it is nested too deeply") from error
    except (TypeError, KeyError, OverflowError, TwinslotError) as error:
        raise ValueError(f"no {kind.__name__}: {error}") from error
    if not isinstance(built, kind):
        raise ValueError(f"no {kind.__name__}")
    return built


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value) if f.init}
    if isinstance(value, (tuple, list)):
        return [_plain(v) for v in value]
    if isinstance(value, frozenset):
        return sorted(_plain(v) for v in value)
    return value


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _built(kind: Any, raw: Any, where: str) -> Any:
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        return _one_of(get_args(kind), raw, where)
    if origin is Literal:
        if raw not in get_args(kind) or isinstance(raw, bool) is not isinstance(get_args(kind)[0], bool):
            raise _wrong(where, f"one of {', '.join(map(str, get_args(kind)))}", raw)
        return raw
    if origin is tuple:
        return _tuple(get_args(kind), raw, where)
    if origin is frozenset:
        return frozenset(_tuple((*get_args(kind), ...), raw, where))
    if isinstance(kind, type) and is_dataclass(kind):
        return _record(kind, raw, where)
    if kind in _WORDS:
        return _single(kind, raw, where)
    return raw


def _one_of(kinds: tuple[Any, ...], raw: Any, where: str) -> Any:
    if raw is None and type(None) in kinds:
        return None
    rest = [kind for kind in kinds if kind is not type(None)]
    for kind in rest[:-1]:
        try:
            return _built(kind, raw, where)
        except (ValueError, TypeError, KeyError):
            continue
    return _built(rest[-1], raw, where)


def _tuple(inner: tuple[Any, ...], raw: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(raw, list):
        raise _wrong(where, "a list", raw)
    if len(inner) == 2 and inner[1] is Ellipsis:
        return tuple(_built(inner[0], item, f"{where}[{n}]") for n, item in enumerate(raw))
    if len(raw) != len(inner):
        raise _wrong(where, f"a list of {len(inner)}", raw)
    return tuple(_built(kind, item, f"{where}[{n}]") for n, (kind, item) in enumerate(zip(inner, raw, strict=True)))


def _record(kind: type, raw: Any, where: str) -> Any:
    if not isinstance(raw, dict):
        raise _wrong(where, "named fields", raw)
    hints = _hints(kind)
    known = {f.name: f for f in fields(kind) if f.init}
    inside = f"{where}." if where else ""
    given = {name: _built(hints[name], raw[name], f"{inside}{name}") for name in known if name in raw}
    for name, f in known.items():
        if name not in given and f.default is MISSING and f.default_factory is MISSING:
            raise KeyError(f"{name} is lacking")
    return kind(**given)


def _single(kind: type, raw: Any, where: str) -> Any:
    if kind is float and isinstance(raw, int) and not isinstance(raw, bool):
        raw = float(raw)
    wrong = not isinstance(raw, kind) or (kind is not bool and isinstance(raw, bool))
    if wrong or (isinstance(raw, float) and not math.isfinite(raw)):
        raise _wrong(where, _WORDS[kind], raw)
    if kind is int and not -_LARGEST <= int(raw) < _LARGEST:
        raise _wrong(where, "a number of at most 18 digits", raw)
    return raw


def _wrong(where: str, expected: str, raw: Any) -> ValueError:
    found = repr(raw)
    return ValueError(f"{where or 'it'} is {found[:40]}{'…' if len(found) > 40 else ''}, expected {expected}")
