"""In which order likely causes stand, and what speaks for it.

What counts, the strongest first: a net that breaks the table learnt for its part; a net whose difference the wire
list or its table does not explain by another net; a steady shift of its transitions before anything logical is wrong;
two nets that look bridged; the first wrong instant. Two with nothing between them are equal, and are said to be.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from tracecore.capture import Int64, sorted_union
from tracecore.causes.learned_tables import Outcome, check_tables
from tracecore.causes.power_up import HELD, NEVER, power_up
from tracecore.circuit.probe_split import Split, best_split
from tracecore.circuit.wire_list import CLOCKED, WireList
from tracecore.compare.divergence import Divergence
from tracecore.compare.findings import SignalFinding
from tracecore.compare.joined_nets import joined
from tracecore.compare.pair_shifts import PART_SPREAD_PS
from tracecore.compare.standing_still import stands_still

_APART = 8  # clean cycles between two episodes
EPISODES = 3  # fewer say nothing of who is first as a rule
_SHIFT_COUNT = 12
_ALIKE = 0.9  # the share of transitions that a delay moves alike
_BREAKS_WITHIN = 1  # cycles behind the first wrong one in which a table's break still counts as one with it
_BREAKS_OFTEN = 8
_STOPS_WITHIN, _STOPS_TOGETHER = 16, 2  # cycles; nets that one fault may hold


def _no_breaks() -> Int64:
    return np.empty(0, np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Circuit:
    """What the order may draw on besides the findings: ``found`` by signal, ``wires`` where there is a list,
    ``breaks`` int64[B] indices of matched cycles that do not follow the one before,
    ``edges_ps`` int64[N] the good side's active clock edges, ``parts_at`` the good cycle from which on the two sides do
    different things for a while, or None: what first differs behind that may be a consequence of it. ``feigned_ps`` is
    how far sampling that keeps step with the clock may shift all transitions. ``chip_outputs`` are the nets that are
    wrong at chips that do not obey their inputs."""

    found: Mapping[str, Divergence] = field(default_factory=dict)
    wires: WireList | None = None
    breaks: Int64 = field(default_factory=_no_breaks)
    edges_ps: Int64 = field(default_factory=_no_breaks)
    parts_at: int | None = None
    feigned_ps: int = 0
    chip_outputs: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of one diverging signal's place. ``fed_by`` is a wrong net that explains it,
    ``split`` the uncaptured net that tells most of where it gets wrong. Where its table is ``broken_late``, others were
    wrong before: the part may then meet what the good capture never showed it. One that ``came_up`` otherwise stands
    where it is wrong for the first time after it was loaded. While others differ since power-up, one ``stands_out``
    that goes wrong by itself over and over, and one is ``telling``, above 0, that fails in a way that contents hardly,
    or never, make."""

    at_ps: float
    cycle: int
    outcome: Outcome | None = None
    fed_by: str = ""
    shift_ps: int = 0
    shift_at_ps: float = 0.0
    shift_of: str = "transitions"
    bridged_with: str = ""
    firsts: int = 0
    episodes: int = 0
    split: Split | None = None
    broken_late: bool = False
    came_up: bool = False
    stands_out: bool = False
    telling: int = 0
    held_moves: int = 0
    """How many transitions of the good side one that stands still lacks."""
    of_chip: bool = False
    """Is it wrong at the output of a chip that does not obey its inputs?"""
    settles: bool = False
    """Having come up otherwise, is it right more often than not behind its loading?"""
    among_contents: bool = False
    """Did so much come up otherwise that a net which is wrong before says little of what it feeds?"""
    by_contents: bool = False
    """May all of it come from what registers and stores held as they came up?"""
    beyond_contents: bool = False
    """Do others' contents not explain it, nor that the machine stops?"""

    @property
    def breaks_table(self) -> bool:
        """Does it disobey what its part was learnt to do, from when the first net is wrong? Where others came up
        otherwise at whatever time, since contents never make that."""
        broken = self.outcome is not None and self.outcome.first is not None
        return broken and (self.among_contents or not self.broken_late)

    @property
    def obeys_table(self) -> bool:
        """Does it differ and yet do what its part was learnt to do?"""
        return self.outcome is not None and self.outcome.first is None and self.outcome.differing_obeyed > 0

    @property
    def group(self) -> int:
        """0 breaks its table, 1 unexplained, 2 explained by another net."""
        if self.breaks_table:
            return 0
        return 2 if self.obeys_table or (self.fed_by and not self.among_contents) else 1


def standings(
    findings: Mapping[str, SignalFinding], bridges: Mapping[str, str], circuit: Circuit, uncertainty_ps: int
) -> dict[str, Standing]:
    """A standing for each diverging signal; ``bridges`` names for a signal whom it follows."""
    came_up = power_up(circuit.found, tuple(findings))
    outcomes = check_tables(circuit.found, circuit.wires, circuit.breaks, came_up.loaded) if circuit.wires else {}
    shifts = _shifts(findings, circuit, uncertainty_ps, at_first=not came_up.many)
    firsts, episodes = _firsts(findings)
    held = _held(findings, circuit)
    # those that were right again, or stopped with several others, say nothing
    stopped = {n for n, f in findings.items() if f.fault_kind in HELD and n not in held} | _stopped(findings, held)
    by_contents = {
        n for n, f in findings.items() if n not in shifts and came_up.explains(n, f.fault_kind, held.get(n, 0))
    }
    lead = min((f.first_divergence.cycle for f in findings.values() if f.first_divergence), default=0)
    out = {}
    for name, finding in findings.items():
        at = finding.first_divergence
        shift_ps, shift_at, shift_of = shifts.get(name, (0, 0.0, "transitions"))
        partner = bridges.get(name, "")
        out[name] = Standing(
            float(at.good_ps) if at else float("inf"),
            at.cycle if at else 1 << 60,
            outcomes.get(name),
            "",
            shift_ps,
            shift_at,
            shift_of,
            partner if partner in findings and _looks_joined(name, partner, circuit.found) else "",
            firsts.get(name, 0),
            episodes,
            broken_late=_broken_late(name, outcomes, circuit, lead),
            stands_out=name == came_up.standing_out,
            telling=came_up.telling(name, None if name in stopped else finding.fault_kind),
            held_moves=held.get(name, 0),
            of_chip=name in circuit.chip_outputs,
            settles=name in came_up.settled,
            among_contents=came_up.many,
            by_contents=name in by_contents,
            beyond_contents=came_up.many and name not in by_contents | stopped,
        )
        if name in came_up.wrong_at:
            out[name] = _loaded(out[name], came_up.wrong_at[name], circuit)
    return _explained(out, circuit.wires, uncertainty_ps, set(circuit.found)) if circuit.wires else out


def _held(findings: Mapping[str, SignalFinding], circuit: Circuit) -> dict[str, int]:
    """How many transitions the good side makes of each signal that stands still to the end of the suspect's capture."""
    return {
        name: len(f.good_trace.times_ps)
        for name, f in findings.items()
        if f.fault_kind in HELD
        and f.good_trace is not None
        and name in circuit.found
        and stands_still(circuit.found[name], len(circuit.found[name].ties.good_ps))
    }


def _stopped(findings: Mapping[str, SignalFinding], held: Iterable[str]) -> set[str]:
    """Those that come to stand still with several others at about one time: a machine that stops does that to all."""
    firsts = {name: at.cycle for name in held if (at := findings[name].first_divergence) is not None}
    near = {name: sum(abs(at - other) <= _STOPS_WITHIN for other in firsts.values()) for name, at in firsts.items()}
    return {name for name, count in near.items() if count > _STOPS_TOGETHER}


def _loaded(own: Standing, wrong_at: int | None, circuit: Circuit) -> Standing:
    """The standing of a signal that came up otherwise: what it did before it was loaded says nothing."""
    if wrong_at is None:
        return replace(own, came_up=True, at_ps=float("inf"), cycle=1 << 60)
    # behind all that is known to be wrong in that cycle
    edges = circuit.edges_ps
    at = float(edges[wrong_at + 1]) if wrong_at + 1 < len(edges) else own.at_ps
    return replace(own, came_up=True, at_ps=at, cycle=wrong_at)


def _broken_late(name: str, outcomes: Mapping[str, Outcome], circuit: Circuit, lead: int) -> bool:
    """Does a net disobey its table for the first time after another one was wrong, from cycle ``lead`` on, and then
    seldom? Where a good part of its wrong cycles break the table, others' faults are no reason."""
    outcome = outcomes.get(name)
    if outcome is None or outcome.first is None:
        return False
    found = circuit.found[name]
    often = outcome.broken >= _BREAKS_OFTEN and 4 * outcome.broken >= int(found.differing.sum())
    return int(found.good_cycles[outcome.first]) > lead + _BREAKS_WITHIN and not often


def order_key(
    name: str, standing: Standing, lead_ps: float, uncertainty_ps: int, wrong_cycles: int
) -> tuple[object, ...]:
    """Sorts likely causes; what a reader sees of it is told by ``Standing``."""
    outcome = standing.outcome
    broke = outcome.first if standing.breaks_table and outcome is not None and outcome.first is not None else 0
    shifted = standing.shift_ps != 0
    near = standing.at_ps - lead_ps <= uncertainty_ps
    return (
        standing.group,
        broke,
        not standing.beyond_contents,
        not standing.stands_out,
        -standing.telling,
        # what is loaded from a net that is held stands still as well, and moves no more often on the good side
        -standing.held_moves if standing.telling == NEVER else 0,
        not shifted,
        standing.shift_at_ps if shifted else 0.0,
        not near,
        not (near and standing.bridged_with),
        -standing.firsts if near and standing.episodes >= EPISODES else 0,
        standing.at_ps,
        -wrong_cycles,
        name,
    )


def sources(net: str, wires: WireList, captured: set[str]) -> dict[str, bool]:
    """The captured nets that reach a net, through uncaptured ones too; True where a register lies on every way."""
    out: dict[str, bool] = {}
    todo, seen = [(net, False)], {(net, False)}
    while todo:
        at, registered = todo.pop()
        for row in wires.drivers(at):
            held = registered or row.kind in CLOCKED
            for source in row.inputs:
                if source in captured:
                    out[source] = out.get(source, True) and held
                elif (source, held) not in seen:
                    seen.add((source, held))
                    todo.append((source, held))
    return out


def _explained(
    out: dict[str, Standing], wires: WireList, uncertainty_ps: int, captured: set[str]
) -> dict[str, Standing]:
    explained = {}
    for name, own in out.items():
        best = ""
        for source, held in sources(name, wires, captured).items():
            other = out.get(source)
            if other is None or source == name:
                continue
            before = other.cycle < own.cycle
            within = not held and other.cycle == own.cycle and other.at_ps <= own.at_ps + uncertainty_ps
            if (before or within) and (not best or other.at_ps < out[best].at_ps):
                best = source
        # a net that breaks its own table is wrong of itself, whatever feeds it
        split = None if best else best_split(name, wires, captured)
        explained[name] = replace(own, fed_by="" if own.breaks_table else best, split=split)
    return explained


def _shifts(
    findings: Mapping[str, SignalFinding], circuit: Circuit, within_ps: int, *, at_first: bool
) -> dict[str, tuple[int, float, str]]:
    """Signals whose transitions of one direction are shifted steadily before anything logical is wrong: by how much,
    their usual time in the cycle, and which they are ("rises", "falls", or "transitions" where it is both). Where what
    is wrong at first says nothing, or too few transitions lie before it, all count, and nearly all must be shifted
    alike: ``within_ps`` of one another."""
    logical = [
        int(part[0]) for f in findings.values() for part in (f.ties.missing_ps, f.ties.extra_on_good_ps) if len(part)
    ]
    before = min(logical, default=1 << 62) if at_first else 0
    # a whole cycle is a state that came late, not a delay
    most = 0.6 * float(np.median(np.diff(circuit.edges_ps))) if len(circuit.edges_ps) > 1 else float("inf")
    out = {}
    for name, finding in findings.items():
        ties = finding.ties
        good = np.concatenate((ties.good_ps, ties.moved_good_ps))
        late = np.concatenate((ties.suspect_on_good_ps, ties.moved_suspect_on_good_ps)) - good
        if not len(ties.moved_good_ps) or name not in circuit.found or finding.good_trace is None:
            continue
        levels = finding.good_trace.level_at(good)
        best, of = 0.0, ""
        for level, word in ((0, "falls"), (1, "rises")):
            every = late[levels == level].astype(np.float64)
            own = late[(levels == level) & (good < before)].astype(np.float64)
            if len(own) < _SHIFT_COUNT:
                own = every
                if len(own) < _SHIFT_COUNT or float((np.abs(own - np.median(own)) <= within_ps).mean()) < _ALIKE:
                    continue
            mean, error = float(own.mean()), float(own.std()) / len(own) ** 0.5 + 300
            if not max(PART_SPREAD_PS, circuit.feigned_ps, 6 * error) < abs(mean) < most:
                continue
            of = "transitions" if of else word
            best = max(best, mean, key=abs)
        if best:
            out[name] = (round(best), _time_in_cycle(good, circuit.edges_ps), of)
    return out


def _time_in_cycle(times_ps: Int64, edges_ps: Int64) -> float:
    """The usual time since the active edge; without edges that of the first."""
    if not len(edges_ps):
        return float(times_ps.min())
    at = np.maximum(edges_ps.searchsorted(times_ps, "right") - 1, 0)
    return float(np.mean(times_ps - edges_ps[at]))


def _looks_joined(name: str, partner: str, found: Mapping[str, Divergence]) -> bool:
    return name in found and partner in found and joined(found[name], found[partner]) is not None


def _firsts(findings: Mapping[str, SignalFinding]) -> tuple[dict[str, int], int]:
    """In how many separate episodes a signal is the first to go wrong, and how many episodes there are."""
    cycles = [f.diverging_cycles for f in findings.values() if len(f.diverging_cycles)]
    if not cycles:
        return {}, 0
    wrong = sorted_union(*cycles)
    starts = wrong[np.concatenate(([True], np.diff(wrong) > _APART))]
    out = {}
    for name, finding in findings.items():
        out[name] = int(np.isin(starts, finding.diverging_cycles).sum())
    return out, len(starts)
