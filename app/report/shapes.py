"""Small marks that stand before words, painted as strokes so that no font has to have them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from app.report.palette import Colour
    from app.report.surface import Surface

Shape = Literal[
    "tick", "triangle", "query", "ring", "diamond", "rule", "square", "disc", "disc tick", "ring cross", "flag", "level"
]
SHAPE_WORDS: dict[Shape, str] = {
    "tick": "tick",
    "triangle": "triangle",
    "query": "question mark",
    "ring": "open ring",
    "diamond": "diamond",
    "rule": "measuring rule",
    "square": "filled square",
    "disc": "disc",
    "disc tick": "disc with a tick: it helped",
    "ring cross": "ring with a cross: it did not help",
    "flag": "flag",
    "level": "level bar",
}
VERDICT_SHAPES: dict[str, Shape] = {"agrees": "tick", "diverges": "triangle", "undecided": "query", "missing": "ring"}
ENTRY_SHAPES: dict[str, Shape] = {
    "seen": "ring",
    "suspected": "diamond",
    "measured": "rule",
    "done": "square",
    "result": "disc",
}
MARK_SHAPES: dict[str, Shape] = {"question": "query", "finding": "flag", "reference": "level"}


def entry_shape(kind: str, helped: bool | None) -> Shape:
    """The margin shape of a line of the log; a result says by it whether it helped.

    >>> entry_shape("result", False)
    'ring cross'
    """
    if kind == "result" and helped is not None:
        return "disc tick" if helped else "ring cross"
    return ENTRY_SHAPES[kind]


def paint_shape(surface: Surface, shape: Shape, x: float, y: float, size: float, colour: Colour = "ink") -> None:
    """Paints a shape into the square whose upper left corner is ``x``, ``y``."""

    def at(across: float, down: float) -> tuple[float, float]:
        return x + across * size, y + down * size

    weight, middle = size / 8, at(0.5, 0.5)
    if shape == "tick":
        surface.polyline([at(0.12, 0.55), at(0.4, 0.84), at(0.9, 0.16)], colour, weight * 1.2)
    elif shape == "triangle":
        surface.polygon([at(0.04, 0.92), at(0.96, 0.92), at(0.5, 0.1)], colour, None, 0)
    elif shape == "query":
        surface.rect(*at(0.06, 0.06), 0.88 * size, 0.88 * size, None, colour, weight / 2)
        surface.text(*at(0.5, 0.79), "?", colour, 0.8 * size, anchor="middle", bold=True, overline=False)
    elif shape == "diamond":
        _closed(surface, [at(0.5, 0.04), at(0.96, 0.5), at(0.5, 0.96), at(0.04, 0.5)], colour, weight)
    elif shape == "rule":
        surface.rect(*at(0.02, 0.24), 0.96 * size, 0.52 * size, None, colour, weight)
        for across, down in ((0.22, 0.42), (0.41, 0.52), (0.6, 0.42), (0.79, 0.52)):
            surface.line(*at(across, 0.24), *at(across, down), colour, weight * 0.8, dashed=False)
    elif shape == "square":
        surface.rect(*at(0.08, 0.08), 0.84 * size, 0.84 * size, colour, None, 0)
    elif shape == "flag":
        surface.line(*at(0.22, 0.04), *at(0.22, 0.96), colour, weight, dashed=False)
        surface.polygon(
            [at(0.22, 0.04), at(0.98, 0.04), at(0.74, 0.31), at(0.98, 0.58), at(0.22, 0.58)], colour, None, 0
        )
    elif shape == "level":
        surface.line(*at(0.04, 0.1), *at(0.96, 0.1), colour, weight, dashed=False)
        for foot in (0.12, 0.5, 0.88):
            surface.line(*at(0.5, 0.1), *at(foot, 0.96), colour, weight * 0.8, dashed=False)
    elif shape in ("disc", "disc tick"):
        surface.circle(*middle, 0.46 * size, colour, None, 0)
        if shape == "disc tick":
            surface.polyline([at(0.28, 0.52), at(0.44, 0.68), at(0.72, 0.35)], "panel", weight)
    else:
        surface.circle(*middle, 0.42 * size, None, colour, weight)
        if shape == "ring cross":
            for up, down in ((0.33, 0.67), (0.67, 0.33)):
                surface.line(*at(0.33, up), *at(0.67, down), colour, weight, dashed=False)


def _closed(surface: Surface, corners: list[tuple[float, float]], colour: Colour, weight: float) -> None:
    """An outline: its last line runs on into the first, so that no corner stays open."""
    surface.polyline([*corners, corners[0], corners[1]], colour, weight)
