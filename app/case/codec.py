"""Frozen values as JSON text and back.

A field that a text lacks takes its default, and one that a value does not know is left out, so that a file written
by an older version is read without a word about it.
"""

from __future__ import annotations

import json
import types
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

Value = TypeVar("Value")


def encode(value: Any) -> str:
    """The JSON text of a value; equal values give equal text."""
    return json.dumps(_plain(value), ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def decode(kind: type[Value], text: str) -> Value:
    """The value of that kind. Raises ValueError where the text does not hold one."""
    try:
        built = _built(kind, json.loads(text))
    except (TypeError, KeyError) as error:
        raise ValueError(f"no {kind.__name__}: {error}") from error
    if not isinstance(built, kind):
        raise ValueError(f"no {kind.__name__}")
    return built


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value) if f.init}
    if isinstance(value, (tuple, list)):
        return [_plain(v) for v in value]
    return value


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _built(kind: Any, raw: Any) -> Any:
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        rest = [a for a in get_args(kind) if a is not type(None)]
        return None if raw is None else _built(rest[0], raw)
    if origin is tuple:
        inner = get_args(kind)
        if len(inner) == 2 and inner[1] is Ellipsis:
            return tuple(_built(inner[0], item) for item in raw)
        return tuple(_built(a, item) for a, item in zip(inner, raw, strict=True))
    if isinstance(kind, type) and is_dataclass(kind):
        hints = _hints(kind)
        known = {f.name: f for f in fields(kind) if f.init}
        given = {name: _built(hints[name], raw[name]) for name in known if name in raw}
        lacking = [
            name
            for name, f in known.items()
            if name not in given and f.default is MISSING and f.default_factory is MISSING
        ]
        if lacking:
            raise KeyError(f"{lacking[0]} is lacking")
        return kind(**given)
    return raw
