"""Public computers of discrete TTL, simulated by iverilog, as boards that nobody of this project thought of.

``design`` says what a design is, ``microcoded`` and ``gated_clocks`` are two, and ``simulation`` runs one with a fault
on one of its nets. ``DESIGNS`` lists them. The designs are not part of this project: whoever runs the benchmark fetches
them, and nothing of them is kept.
"""

from __future__ import annotations

from tests.benchmarks.public_design.design import Design
from tests.benchmarks.public_design.gated_clocks import GATED_CLOCKS
from tests.benchmarks.public_design.microcoded import MICROCODED

DESIGNS: dict[str, Design] = {design.name: design for design in (MICROCODED, GATED_CLOCKS)}
