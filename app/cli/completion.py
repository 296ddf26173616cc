"""Completion of commands, options and files in a shell, made from the parser itself, so that it is never behind it."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

SHELLS = ("bash", "zsh", "tcsh")
FILES, FOLDERS = ("FILE", "CASE", "NEW"), ("FOLDER",)
"""What an option takes, by how its help calls it."""


def add_completion(parser: argparse.ArgumentParser) -> None:
    """What can be typed after ``completion``."""
    parser.description = "Prints what a shell needs to complete commands, options and files of this program."
    parser.epilog = (
        "For bash: twinslot completion bash > ~/.local/share/bash-completion/completions/twinslot. "
        "For zsh: write it to a file _twinslot in a folder of $fpath. Then start a new shell."
    )
    parser.add_argument("shell", choices=SHELLS, help="which shell")


def completion(arguments: argparse.Namespace, whole: argparse.ArgumentParser) -> int:
    """Prints the completion of the ``whole`` program for one shell."""
    import shtab

    for action in _actions(whole):
        name = action.metavar if isinstance(action.metavar, str) else ""
        if name in FILES:
            action.complete = shtab.FILE  # type: ignore[attr-defined]
        elif name in FOLDERS:
            action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
    print(shtab.complete(whole, shell=arguments.shell), end="")
    return 0


def _actions(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    """All options and operands, those of the commands included."""
    for action in parser._actions:
        yield action
        if isinstance(action, argparse._SubParsersAction):
            for command in action.choices.values():
                yield from _actions(command)
