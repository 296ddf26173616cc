"""What a person must know beside the findings: one sort of value, and the table of all that there are.

A notice is about the captures, their line-up or the leads; what is wrong with the board is a finding. To add one: a
row in ``NOTICE_KINDS``, ``notice(code, ...)`` where the matter is known, and a recipe in ``tests/notices``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Severity = Literal["info", "look", "doubt"]
"""``info`` is good to know, ``look`` asks for a look, ``doubt`` forbids the outcome "agrees"."""

WORST_FIRST: tuple[Severity, ...] = ("doubt", "look", "info")


@dataclass(frozen=True, slots=True)
class Notice:
    """One notice. ``code`` is a stable word of ``NOTICE_KINDS``; ``text`` says what was found, in one or two sentences;
    ``do`` what to do about it, empty where there is nothing; ``signals`` are those it is about, by the sheet."""

    code: str
    severity: Severity
    text: str
    do: str = ""
    signals: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """All of it, as one reads it in a line."""
        return f"{self.text} {self.do}".strip()


@dataclass(frozen=True, slots=True)
class NoticeKind:
    """One row of the table: how grave it is, what it means, and an example with what to do."""

    severity: Severity
    meaning: str
    example: str
    do: str = ""


NOTICE_KINDS: Mapping[str, NoticeKind] = MappingProxyType(
    {
        "no_lineup": NoticeKind(
            "doubt",
            "No offset makes the two sides fit, so nothing could be compared cycle by cycle.",
            "No line-up: at no offset do the two sides agree.",
            "Capture both sides from the same event on, or set the offset by hand if it is known.",
        ),
        "doubtful_lineup": NoticeKind(
            "doubt",
            "An offset was found, but another one may be the right one.",
            "Line-up ambiguous: offset +12 and offset +76 fit equally well.",
            "Capture both sides from the same event on, or add a signal that tells the two apart.",
        ),
        "no_clock": NoticeKind(
            "doubt",
            "The clock does not tick on one side, so its cycles cannot be counted.",
            "south: MCLK never toggles there; that may be the fault itself.",
            "Look at the clip of the clock, then at the clock itself.",
        ),
        "clock_stops": NoticeKind(
            "look",
            "The suspect's clock stops well before the end of its capture, and the known-good one goes on.",
            "The suspect's clock stops; nothing is compared after cycle 338, 9 282 samples in all.",
            "Look at the clock of the suspect first.",
        ),
        "good_clock_stops": NoticeKind(
            "doubt",
            "The known-good clock stops well before the end of its capture, and the suspect's goes on.",
            "The known-good clock stops; nothing is compared after cycle 338, 9 282 samples in all.",
            "Take another known-good capture.",
        ),
        "both_clocks_stop": NoticeKind(
            "info",
            "Both clocks stop well before the end of their captures; nothing is compared after that.",
            "Both clocks stop; nothing is compared after cycle 338.",
        ),
        "clock_starts_late": NoticeKind(
            "look",
            "A capture begins long before the first edge of its clock.",
            "The suspect's clock starts after 4 100 samples; nothing is compared before that.",
            "Look whether the board was held, or without power, when its capture began.",
        ),
        "ends_not_compared": NoticeKind(
            "info",
            "Cycles at the start or the end that the other side does not have.",
            "Not compared, since the other side does not reach there: suspect, 12 cycles before and 300 after.",
        ),
        "too_little_compared": NoticeKind(
            "doubt",
            "Less than half of either capture was compared.",
            "Only 120 of 1 700 cycles of the known-good capture were compared.",
            "Capture both sides from the same event on, and as long, so that they overlap more.",
        ),
        "still_at_the_end": NoticeKind(
            "doubt",
            "Signals stand still on the suspect behind what was compared, much longer than they ever rest before.",
            "Behind what was compared these stand still to the end of the suspect's capture, for 358 cycles or more: "
            "ACK, REQ. Before that they rest for 24 at most on either side.",
            "The board may hang there: compare with a known-good capture that reaches as far.",
        ),
        "slips": NoticeKind(
            "look",
            "One side takes cycles that the other lacks; the line-up follows that.",
            "3 slips followed, first at good cycle 330: 4 cycles inserted, 0 missing.",
            "Compare another known-good capture as well: it shows whether a sound unit does that.",
        ),
        "contents_differ": NoticeKind(
            "look",
            "Signals differ from the start until they move first, as registers and memory do that came up otherwise.",
            "Registers or memory may have come up otherwise: Q0, Q1 and 3 more differ from the start until they move.",
            "On both sides load all registers and write all memory first, and capture from there on. "
            "Or compare further known-good captures, each from its own power-up.",
        ),
        "never_seen": NoticeKind(
            "look",
            "In cycles that only the suspect has a signal is at a level at which the good side never has it.",
            "In cycles that only the suspect has ENB is high, first in its cycle 412; the good side never shows that.",
            "Look at that signal in these cycles on the Compare page.",
        ),
        "other_capture_slips": NoticeKind(
            "look",
            "A suspect capture that is not shown takes other cycles, as no known-good capture does.",
            "south 4, which is not shown, takes other cycles than the known-good captures do.",
            "Show that capture to see where.",
        ),
        "capture_not_compared": NoticeKind(
            "doubt",
            "A further suspect capture could not be compared.",
            "south 3 does not count: at no offset do the two sides agree.",
            "Look at that capture by itself, or leave it out.",
        ),
        "good_capture_unused": NoticeKind(
            "look",
            "A further known-good capture could not be used.",
            "north 2 does not count: it lacks the clock MCLK or any other shared signal.",
            "Leave it out, or take it again.",
        ),
        "good_capture_odd": NoticeKind(
            "look",
            "A known-good capture stands alone against all the others: what it shows there is not learnt.",
            "north 3 differs from all other known-good captures on D02, in 90 places: it teaches nothing.",
            "Leave it out: it may be no good one.",
        ),
        "reference_odd": NoticeKind(
            "doubt",
            "The known-good capture that all is compared with stands alone against the others, and none replaces it.",
            "north 1, which all is compared with, differs from all other known-good captures on D02, in 90 places.",
            "Show another known-good capture in its place: it may be no good one.",
        ),
        "reference_replaced": NoticeKind(
            "look",
            "The first known-good capture stands alone against the others, so another one is compared with.",
            "north 2 is compared with in place of north 1, which differs from all other known-good captures on D02.",
            "Leave that capture out: it may be no good one.",
        ),
        "good_captures_disagree": NoticeKind(
            "doubt",
            "The only two known-good captures differ from one another, and nothing tells which is right.",
            "north 1 and north 2, the only known-good captures to judge by, differ from one another on D02.",
            "Take a third known-good capture.",
        ),
        "teaches_nothing": NoticeKind(
            "look",
            "A known-good capture teaches nothing of what varies on a sound board.",
            "north 2 teaches nothing of what varies: without a clock its signals make other cycles.",
            "Name a clock, or leave that capture out.",
        ),
        "bursts_count": NoticeKind(
            "look",
            "No signal ticks or strobes, so the cycles are what lies between two bursts of transitions.",
            "No signal ticks or strobes: a cycle is what lies between two bursts of transitions.",
            "Capture the clock or a strobe as well.",
        ),
        "rough_clock": NoticeKind(
            "look",
            "The signal that counts the cycles does not tick evenly.",
            "No signal ticks evenly; STB counts the cycles, which is even in 31 % of them.",
            "If another signal strobes what is compared, name it as the clock.",
        ),
        "missed_states": NoticeKind(
            "doubt",
            "So few samples a cycle that states between them are missed.",
            "north.csv: 2.0 samples a cycle of Q0. A state that lasts for one cycle may be missed.",
            'Capture faster. If the board\'s own clock took each row, say so: layout "cycle rows".',
        ),
        "row_is_cycle": NoticeKind(
            "info",
            "Each row is taken for one cycle of the board's clock, as was said: states are compared, and no times.",
            "Each row is taken for one cycle of the board's clock. Times count rows, 1 µs each; no delay is judged.",
        ),
        "slow_sampling": NoticeKind(
            "look",
            "Too few samples a cycle.",
            "south: 2.4 samples a cycle of MCLK; at least 4 are wanted for states, 10 for timing.",
            "Capture faster.",
        ),
        "clock_rates_differ": NoticeKind(
            "look",
            "The two clocks differ by more than crystals do.",
            "The suspect's cycle is +4.0 % longer than the good one's, 250 ns: more than crystals differ by.",
            "Look at both clocks with a counter.",
        ),
        "left_out": NoticeKind(
            "info",
            "Cycles that a condition leaves out.",
            "Left out where RFSH is high: 120 of 1 700 good cycles and 118 of 1 702 suspect cycles.",
        ),
        "left_out_signal": NoticeKind(
            "look",
            "A signal moves only in cycles that a condition leaves out, so it is counted there and not judged.",
            "RFSH moves only in cycles that are left out, where its transitions are counted: 240 on the known-good "
            "side, 236 on the suspect side.",
            "Compare without the condition to judge it.",
        ),
        "left_out_unlike": NoticeKind(
            "doubt",
            "What a condition leaves out is not alike on both sides, so a fault may be left out with it.",
            "The condition leaves out unlike numbers of cycles: 120 on the known-good side, 800 on the suspect side.",
            "Compare without the condition, or with one on signals that are known to be sound.",
        ),
        "one_side_only": NoticeKind(
            "look",
            "A signal that only one side has is not compared.",
            "Only one side has IRQ, NMI: not compared.",
            "Capture these on both sides.",
        ),
        "lacks_signals": NoticeKind(
            "doubt",
            "Signals that move, and that the sheet names or that are a tenth of all, were captured on one side only.",
            "Only one side has A1, B1, which move there: a fault may be on them.",
            "Capture these on both sides, under one name.",
        ),
        "sheet_row_unused": NoticeKind(
            "look",
            "The probe sheet names a channel that neither capture has.",
            "The sheet names channels that neither capture has: CH12 (IRQ).",
            "Capture these, or correct their names on the sheet.",
        ),
        "too_still": NoticeKind(
            "look",
            "A signal moves too seldom, or is decided in too few cycles, for its agreement to mean much.",
            "Too still to judge: RESET, IRQ. They are decided in under 30 cycles or move less than twice.",
            "Capture a stretch in which they move.",
        ),
        "undecided": NoticeKind(
            "doubt",
            "A signal that moves could not be decided in any cycle.",
            "Undecided throughout: ALE. It moves, but no state of it could be compared.",
            "Choose the other edge of the clock, or capture faster.",
        ),
        "short_pulses": NoticeKind(
            "info",
            "Pulses so short that the other side may have missed them, no more than chance makes.",
            "Pulses too short to be seen surely, on one side, which the other side may have missed (good and "
            "suspect): D03 2 and 3.",
        ),
        "short_pulses_one_side": NoticeKind(
            "doubt",
            "A signal makes short pulses on one side, more than chance could have hidden on the other.",
            "Pulses too short to be seen surely, on one side, more often than chance hides them (good and suspect): "
            "D03 0 and 400.",
            "Capture both sides faster; look at that signal with a scope.",
        ),
        "short_pulses_finer": NoticeKind(
            "doubt",
            "A signal makes many short pulses on the side that was sampled faster; the other was too slow for them.",
            "Sampled every 50 ns, the known-good side may have missed short pulses that the other shows (good and "
            "suspect): D03 0 and 30.",
            "Capture that side as fast as the other.",
        ),
        "short_pulses_out_of_place": NoticeKind(
            "doubt",
            "A signal makes short pulses at moments of the cycle at which the other side never moves it.",
            "Short pulses at moments of the cycle at which the other side never moves (good and suspect): D03 0 and 4.",
            "Look at that signal with a scope, for noise or a bad contact; capture both sides faster.",
        ),
        "short_pulses_may_hide": NoticeKind(
            "doubt",
            "What differs on a signal is what short pulses, that one side or both were too slow for, can make of it.",
            "Early, late, or longer than the other side shows, as short pulses would make it: D03 2 times.",
            "Capture both sides faster; look at that signal with a scope.",
        ),
        "short_pulses_settling": NoticeKind(
            "look",
            "Short pulses, or what they make of a transition, at moments at which both sides are seen to settle.",
            "Short pulses, or what they make of a transition, where both sides settle: D03 2 times.",
            "Capture both sides faster where that signal's short pulses matter.",
        ),
        "barely_off": NoticeKind(
            "look",
            "At most one transition in a hundred is early or late by a little more than the tolerance.",
            "Early or late by a little more than the tolerance, in at most 1 % of the transitions: D03 once.",
            "A pulse that was never sampled may do that: capture both sides faster where the timing matters.",
        ),
        "steadily_off": NoticeKind(
            "look",
            "A signal agrees, but is steadily late or early by more than known-good captures are.",
            "Within tolerance but steadily off: D03 late by 9 ns. Another sound board's parts may do that too.",
            "Compare its part and load with the known-good board if it matters.",
        ),
        "file_note": NoticeKind(
            "look",
            "What the reader left out of a file, or took otherwise than it says.",
            "south: The last row (line 40 002) may be cut short and is left out.",
            "Look whether the file was cut short on its way.",
        ),
        "wire_list_foreign": NoticeKind(
            "look",
            "The wire list names nothing that was captured.",
            "The wire list names no captured signal, so it says nothing of the causes.",
            "Name its nets as the signals are named.",
        ),
        "wire_list_two_drivers": NoticeKind(
            "look",
            "The wire list lets two plain outputs drive one net.",
            "The wire list lets 2 parts drive D03 (U4, U9).",
            "If they share it, write three-state or open collector as their kind; if not, correct the output's name.",
        ),
        "same_bytes": NoticeKind(
            "look",
            "The same file lies twice on one side; it counts once.",
            "south 2 has the same bytes as south 1: it counts once.",
            "Take it out, or add the capture that was meant.",
        ),
        "same_run": NoticeKind(
            "doubt",
            "Both sides hold the same transitions to the sample, which two runs never do: one capture, written twice.",
            "Both sides move at the same samples throughout, 4 120 transitions: this looks like one capture, twice.",
            "Add the capture of the other board, or allow the same capture for a self-test (--same-file).",
        ),
        "self_test": NoticeKind(
            "look",
            "The same file is on both sides, as was asked for.",
            "Both sides are the same file (north.csv): this tests the program, not a board.",
            "Compare two captures to judge a board.",
        ),
        "swapped_leads": NoticeKind(
            "doubt",
            "Two leads of the suspect seem to have changed places.",
            "Leads D02 and D03 look swapped.",
            "Look at both clips. If they are swapped, exchange the channels on the sheet.",
        ),
        "leads_in_a_ring": NoticeKind(
            "doubt",
            "Three leads or more of the suspect seem to have changed places.",
            "Leads D02, D03 and D04 look exchanged in a ring.",
            "Look at these clips, and name the channels by what they read.",
        ),
        "leads_one_off": NoticeKind(
            "doubt",
            "A block of leads seems to sit one place off.",
            "Leads D00 to D03 look one place off.",
            "Look whether this block of clips, or its plug, sits one pin off.",
        ),
        "inverted_leads": NoticeKind(
            "look",
            "A lead reads the opposite of the known-good side.",
            "Lead D03 looks inverted: the opposite of the good side in 100 % of the cycles.",
            "Look whether the channel is set to invert. If not, the board inverts the signal itself.",
        ),
        "clock_lead": NoticeKind(
            "doubt",
            "The clock's lead seems inverted, or shows no clock.",
            "No lead of the suspect ticks like the good side's MCLK (4 MHz), so its cycles cannot be told.",
            "Look at the clip of that lead.",
        ),
        "other_program": NoticeKind(
            "doubt",
            "Nothing fits at any offset: another program seems to run.",
            "Nothing fits: only 1 of 16 moving signals agree at the best offset.",
            "Start the same program on both units and capture from the same point on.",
        ),
        "coarse_timing": NoticeKind(
            "look",
            "The captures are too coarse for the skew to be judged well.",
            "Skew shows only coarsely: one pair of transitions is accurate to ±83.3 ns, 33 % of a cycle of 250 ns.",
            "Capture faster where the timing matters.",
        ),
        "volts_spoilt": NoticeKind(
            "doubt",
            "The instrument spoilt a trace in volts, so its levels, and the logic read from them, cannot be believed.",
            "D02, suspect: 29 % of the samples stand at 3.40 V exactly: the top is cut off by the screen.",
            "Believe no level and no state of that signal until it is captured again.",
        ),
        "levels_shifted": NoticeKind(
            "look",
            "Low and high of several signals lie higher or lower than on the known-good side, all by the same.",
            "Low and high of D00, D01, D02 and 5 more lie 0.50 V above the known-good side's, all alike.",
            "Measure from this board's ground pin to the backplane's ground. Look at the ground leads too.",
        ),
        "margin_short": NoticeKind(
            "doubt",
            "A noise margin is shorter than promised on the suspect side, and not on the known-good one.",
            "ACK has 0.22 V of high margin on the suspect side, 1.40 V on the known-good one; 0.40 V are promised.",
            "Look at the Levels page; measure the driver's own pin.",
        ),
        "limit_missed": NoticeKind(
            "doubt",
            "The suspect misses what a part needs, where no cycle is matched or on the clock; the good side does not.",
            "ACK leaves 8 ns of setup on the suspect side; 7474 needs 20 ns.",
            "Look at the Timing page; measure the signal and the clock at that part together.",
        ),
    }
)
"""All codes. A code keeps its meaning for ever, since scripts read it in the JSON."""


AT_PINS = frozenset(
    (
        *("no_clock", "clock_rates_differ", "short_pulses_one_side", "short_pulses_out_of_place"),
        *("short_pulses_may_hide", "levels_shifted", "margin_short", "limit_missed"),
        *("swapped_leads", "leads_in_a_ring", "leads_one_off", "clock_lead"),
    )
)
"""What these say to do sends hands to a clip or a pin, so the caution follows."""


def notice(code: str, text: str, do: str | None = None, signals: tuple[str, ...] = ()) -> Notice:
    """A notice of a kind in the table, which gives its severity, and what to do where ``do`` is None.

    Raises KeyError for a code that is not in the table.

    >>> notice("no_lineup", "No line-up: nothing fits.", "Capture again.").severity
    'doubt'
    """
    kind = NOTICE_KINDS[code]
    return Notice(code, kind.severity, text, kind.do if do is None else do, signals)


def in_order(notices: tuple[Notice, ...]) -> tuple[Notice, ...]:
    """The gravest first, each told once; those of one severity stay as they come."""
    return tuple(sorted(dict.fromkeys(notices), key=lambda own: WORST_FIRST.index(own.severity)))
