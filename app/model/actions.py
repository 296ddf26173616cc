"""One table of actions: menus, keys, tooltips and the key sheet all come from it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ActionRow:
    """``name`` is what pages and window bind a method to; ``keys`` as Qt spells them, the first one is shown.

    ``begins`` draws a rule above it in its menu.
    """

    name: str
    menu: str
    text: str
    keys: tuple[str, ...]
    tip: str
    begins: bool = False

    @property
    def hint(self) -> str:
        """The tooltip, with the key."""
        return f"{self.tip} ({self.keys[0]})" if self.keys else self.tip


ACTIONS: tuple[ActionRow, ...] = (
    ActionRow("new_case", "Case", "New case…", ("Ctrl+N",), "Begin a case in a file of its own"),
    ActionRow("open_case", "Case", "Open case…", ("Ctrl+O",), "Open a case file"),
    ActionRow("recent_cases", "Case", "Recent cases", (), "Open a case again, also one without a file of its own"),
    ActionRow("demo_cases", "Case", "Demo cases", (), "Open an invented case to try the program on"),
    ActionRow("save_case", "Case", "Save", ("Ctrl+S",), "Give a case its own file; all else is saved by itself"),
    ActionRow(
        "keep_as", "Case", "Keep case as…", ("Ctrl+Shift+S",), "Give the case a file; changes go there by themselves"
    ),
    ActionRow("describe_case", "Case", "Describe case…", ("Ctrl+D",), "Name the case and its units; set your initials"),
    ActionRow("open_good", "Captures", "Add known-good captures…", ("Ctrl+I",), "Add captures of the known-good side"),
    ActionRow("open_suspect", "Captures", "Add suspect captures…", ("Ctrl+U",), "Add captures of the suspect side"),
    ActionRow(
        "look_first",
        "Captures",
        "Look into captures first…",
        ("Ctrl+Shift+I",),
        "See what files are before they are added",
    ),
    ActionRow(
        "watch_folder", "Captures", "Watch a folder…", ("Ctrl+Shift+W",), "Compare each capture that lands in a folder"
    ),
    ActionRow(
        "open_sheet", "Captures", "Open probe sheet…", ("Ctrl+P",), "Open the sheet that names the channels", True
    ),
    ActionRow(
        "good_sheet",
        "Captures",
        "Probe sheet of the known-good side…",
        (),
        "Open a sheet for the known-good side alone",
    ),
    ActionRow(
        "suspect_sheet", "Captures", "Probe sheet of the suspect side…", (), "Open a sheet for the suspect side alone"
    ),
    ActionRow(
        "open_wires", "Captures", "Open wire list…", ("Ctrl+Shift+N",), "Open the list of which nets feed which part"
    ),
    ActionRow("save_sheet", "Captures", "Save probe sheet…", ("Ctrl+Alt+S",), "Save the sheet as CSV"),
    ActionRow("compare_again", "Captures", "Compare again", ("F5",), "Run the comparison once more", True),
    ActionRow("stop", "Captures", "Stop the work", ("Ctrl+.",), "Stop reading or comparing"),
    ActionRow(
        "write_report", "Case", "Report…", ("Ctrl+E",), "See the report's pages, choose sections, write them", True
    ),
    ActionRow(
        "bench_card", "Case", "Bench card…", ("Ctrl+B",), "Write a card of the chosen likely cause to take along"
    ),
    ActionRow("fill_card", "Case", "Fill a bench card…", ("Ctrl+Shift+B",), "Enter what was read at the cabinet"),
    ActionRow(
        "write_pair", "Case", "Both sides on one time…", (), "Write a value change dump or rows, to open elsewhere"
    ),
    ActionRow("page_picture", "Case", "Picture of this page…", ("Ctrl+Shift+P",), "Save what is shown as a picture"),
    ActionRow("print_page", "Case", "Print this page…", ("Ctrl+Alt+P",), "Send what is shown to a printer"),
    ActionRow("quit", "Case", "Quit", ("Ctrl+Q",), "Close the window", True),
    ActionRow("undo", "Edit", "Undo", ("Ctrl+Z",), "Take the last change back"),
    ActionRow("redo", "Edit", "Redo", ("Ctrl+Shift+Z", "Ctrl+Y"), "Do it again"),
    ActionRow(
        "copy_finding", "Edit", "Copy finding", ("Ctrl+Shift+C",), "Put the finding's text on the clipboard", True
    ),
    ActionRow("copy_picture", "Edit", "Copy picture", ("Ctrl+Alt+C",), "Put a picture of this page on the clipboard"),
    ActionRow("mark", "Edit", "Mark…", ("M",), "Mark the chosen cycle, or what lies between the cursors", True),
    ActionRow("edit_mark", "Edit", "Edit mark…", ("E",), "Open the chosen mark"),
    ActionRow("remove_mark", "Edit", "Remove mark", (), "Take the chosen mark out of the case"),
    ActionRow("next_divergence", "Find", "Next divergence", ("N",), "Go to the next place that diverges"),
    ActionRow("previous_divergence", "Find", "Previous divergence", ("P",), "Go to the place before that diverges"),
    ActionRow("next_cycle", "Find", "Next diverging cycle", ("Shift+N",), "Go on cycle by cycle within a place"),
    ActionRow("previous_cycle", "Find", "Previous diverging cycle", ("Shift+P",), "Go back cycle by cycle"),
    ActionRow(
        "next_limit", "Find", "Next limit broken", ("V",), "Go to the next level or time outside its limits", True
    ),
    ActionRow("previous_limit", "Find", "Previous limit broken", ("Shift+V",), "Go to the one before"),
    ActionRow("next_cause", "Find", "Next likely cause", ("Ctrl+Down",), "Choose the next likely cause", True),
    ActionRow("previous_cause", "Find", "Previous likely cause", ("Ctrl+Up",), "Choose the likely cause before"),
    ActionRow("next_mark", "Find", "Next mark", (".",), "Go to the next mark", True),
    ActionRow("previous_mark", "Find", "Previous mark", (",",), "Go to the mark before"),
    ActionRow("find_mark", "Find", "Find a mark…", ("Ctrl+F",), "Open the list of marks, ready to search"),
    ActionRow("go_to", "Find", "Go to a cycle or a time…", ("G",), "Type a cycle, or a time with its unit", True),
    ActionRow("find_signal", "Find", "Find a signal…", ("F",), "Type a name in the table of all signals"),
    ActionRow("show_cycle", "Find", "Show cycle", ("C",), "Show the cycle at which the finding begins"),
    ActionRow(
        "show_seen",
        "Find",
        "Show the capture that diverges",
        ("D",),
        "Compare the suspect capture that diverges in full",
    ),
    ActionRow("go_to_pin", "Find", "Go to its pin", ("Ctrl+Shift+G",), "Show the chosen signal's pin and its net"),
    ActionRow("fit", "View", "Whole capture", ("W",), "Show the whole capture"),
    ActionRow("zoom_in", "View", "Closer", ("+", "="), "Show less time in more detail"),
    ActionRow("zoom_out", "View", "Wider", ("-",), "Show more time"),
    ActionRow("zoom_cursors", "Cursors", "Between the cursors", ("Z",), "Show what lies between cursors A and B"),
    ActionRow("pan_left", "View", "Earlier", ("Left",), "Move to earlier times"),
    ActionRow("pan_right", "View", "Later", ("Right",), "Move to later times"),
    ActionRow("cursor_a", "Cursors", "Cursor A here", ("[",), "Put cursor A at the marked cycle, or in the middle"),
    ActionRow("cursor_b", "Cursors", "Cursor B here", ("]",), "Put cursor B in the middle of the view"),
    ActionRow(
        "cursor_earlier", "Cursors", "Cursor a sample earlier", ("Shift+Left",), "Move the cursor placed last", True
    ),
    ActionRow("cursor_later", "Cursors", "Cursor a sample later", ("Shift+Right",), "Move the cursor placed last"),
    ActionRow(
        "cursor_to_previous",
        "Cursors",
        "Cursor to the transition before",
        ("Ctrl+Shift+Left",),
        "Along the chosen signal, either side",
    ),
    ActionRow(
        "cursor_to_next",
        "Cursors",
        "Cursor to the next transition",
        ("Ctrl+Shift+Right",),
        "Along the chosen signal, either side",
    ),
    ActionRow("cursors_away", "Cursors", "Cursors away", ("Esc",), "Take both cursors away", True),
    ActionRow("row_up", "Rows", "Row up", ("Alt+Up",), "Move the chosen signal's row up"),
    ActionRow("row_down", "Rows", "Row down", ("Alt+Down",), "Move the chosen signal's row down"),
    ActionRow("hide_row", "Rows", "Hide the row", ("X",), "Leave the chosen signal's row out of the traces"),
    ActionRow("show_rows", "Rows", "Show all rows", (), "Bring every hidden row back"),
    ActionRow("buses_first", "Rows", "Buses first", (), "Put the rows of buses above those of signals", True),
    ActionRow("rows_by_bus", "Rows", "Rows by bus", (), "Put the bits of a bus below it"),
    ActionRow("rows_as_compared", "Rows", "Rows as compared", (), "Put all rows back as they came"),
    ActionRow("words_octal", "Rows", "Bus words in octal", ("O",), "Read buses in octal", True),
    ActionRow("words_hex", "Rows", "Bus words in hex", ("H",), "Read buses in hex"),
    ActionRow("words_binary", "Rows", "Bus words in binary", ("B",), "Read buses in binary"),
    ActionRow("theme", "View", "Light or dark", ("Ctrl+T",), "Change between light and dark", True),
    ActionRow("text_larger", "View", "Larger text", ("Ctrl++", "Ctrl+="), "Make all text larger, up to 200 %"),
    ActionRow("text_smaller", "View", "Smaller text", ("Ctrl+-",), "Make all text smaller, down to 100 %"),
    ActionRow("text_normal", "View", "Text at 100 %", ("Ctrl+0",), "Set all text to 100 %"),
    ActionRow("new_line", "Log", "New line", ("F4",), "Write a line in the log, from any page"),
    ActionRow(
        "write_in_log", "Log", "Write finding in log", ("Ctrl+L",), "Take the chosen likely cause down as suspected"
    ),
    ActionRow("because_line", "Log", "New line because of this", (), "Write what the opened entry led to", True),
    ActionRow("correct_line", "Log", "Correct the entry", (), "Write a line that puts the opened entry right"),
    ActionRow("go_to_mark", "Log", "Go to its cycle", ("Ctrl+G",), "Go to the opened entry's mark or cycle in Compare"),
    ActionRow("add_picture", "Log", "Picture…", (), "Put photos beside the opened entry", True),
    ActionRow("add_reading", "Log", "Reading…", (), "Put what a meter said beside the opened entry"),
    ActionRow(
        "count_readings", "Log", "Count on Backplane", (), "Put the opened entry's ohms among the readings of Backplane"
    ),
    ActionRow("add_part", "Log", "Part moved…", (), "Note a part that went in, and the one that came out"),
    ActionRow("add_proof", "Log", "Proof…", (), "Note how many captures after the repair diverge"),
    ActionRow("case_state", "Log", "State of the case", (), "Go to the boxes of the case's state", True),
    ActionRow("cases_folder", "Log", "Folder of cases…", (), "Choose where earlier cases are looked for"),
    ActionRow("guide", "Help", "Guide", ("F1",), "How to find a fault, step by step"),
    ActionRow("key_sheet", "Help", "Keys", ("Shift+F1",), "All keys on one sheet"),
    ActionRow("cautions", "Help", "Cautions", (), "Reminders for work in an old cabinet", True),
    ActionRow("version", "Help", "Version", (), "Which version this is, and what it runs on"),
)

MENUS: tuple[str, ...] = ("Case", "Captures", "Edit", "Find", "View", "Cursors", "Rows", "Log", "Steps", "Help")


def action(name: str) -> ActionRow:
    """The row of that name; KeyError where there is none."""
    for row in ACTIONS:
        if row.name == name:
            return row
    raise KeyError(name)


def key_sheet(steps: tuple[ActionRow, ...] = ()) -> str:
    """All keys by menu, as one HTML table, so that they stand in line; ``steps`` are the rows that open pages."""
    parts = []
    for menu in MENUS:
        rows = "".join(
            f"<tr><td>{row.text}&nbsp;&nbsp;&nbsp;</td><td><b>{'  or  '.join(row.keys)}</b></td></tr>"
            for row in (*ACTIONS, *steps)
            if row.menu == menu and row.keys
        )
        parts.append(f"<tr><td colspan='2' style='padding-top:12px'><h3>{menu}</h3></td></tr>{rows}" if rows else "")
    return f"<table>{''.join(parts)}</table>"
