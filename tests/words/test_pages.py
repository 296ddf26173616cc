"""README and the pages of help: short sentences, links that lead somewhere, commands that do what is shown."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from app import start
from app.__main__ import main
from app.cli.arguments import parser
from app.report.cautions import CAUTIONS
from tests.words.sentences import MOST_WORDS, too_long
from tracecore.circuit.parts.catalogue import all_parts
from tracecore.notices import NOTICE_KINDS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
PAGES = [ROOT / "README.md", *sorted((ROOT / "app/help").glob("*.md"))]
COMMANDS = [
    (path.name, line.strip())
    for path in PAGES
    for line in path.read_text("utf-8").split("\n")
    if line.startswith("    twinslot ")
]


def test_a_long_sentence_is_found():
    assert not too_long(" ".join(["word"] * MOST_WORDS) + ".")
    assert len(too_long("Short.\n\n- " + " ".join(["word"] * (MOST_WORDS + 1)) + ". Short.")) == 1


@pytest.mark.parametrize("path", [*PAGES, ROOT / "DEVELOPERS.md"], ids=lambda path: path.name)
def test_sentences_are_short(path):
    assert too_long(path.read_text("utf-8")) == []


def test_sentences_of_notices_and_cautions_are_short():
    told = [text for kind in NOTICE_KINDS.values() for text in (kind.meaning, kind.example, kind.do)]
    assert [text for text in (*told, *CAUTIONS) if too_long(text)] == []


def test_readme_and_the_developers_notes_are_short():
    assert len(README.split()) <= 1150
    assert len((ROOT / "DEVELOPERS.md").read_text("utf-8").split()) <= 1200


def test_every_name_of_a_file_in_the_developers_notes_is_one():
    words = re.findall(r"`([a-z_./]+(?:\.py|\.toml|\.txt|\.md|/))`", (ROOT / "DEVELOPERS.md").read_text("utf-8"))
    places = (ROOT, ROOT / "tracecore", ROOT / "app", ROOT / "tests")
    assert len(words) > 30
    lacking = [word for word in words if not any((place / word).exists() for place in places)]
    # named to say that there is none, and made by the start script
    assert set(lacking) <= {"utils.py"}


@pytest.mark.parametrize("path", [*PAGES, ROOT / "DEVELOPERS.md"], ids=lambda path: path.name)
def test_links_lead_to_files(path):
    links = re.findall(r"\]\(([^)#]+)\)", path.read_text("utf-8"))
    assert [link for link in links if not (path.parent / link).is_file()] == []


@pytest.mark.parametrize(("page", "command"), COMMANDS, ids=lambda text: text[:40])
def test_each_command_can_be_typed(page, command):
    program, *words = shlex.split(command)
    assert program == "twinslot"
    assert parser().parse_args(words).command == words[0]


def test_the_two_commands_are_those_of_the_start_script():
    shown = re.findall(r"^    python3 (app/start\.py.*?)\s*#", README, re.MULTILINE)
    assert [line.split()[1:] for line in shown] == [[], ["test"]]
    assert start.command_for([], display=True)[-1] == "demo"
    assert start.command_for(["test"], display=True)[2] == "pytest"


def test_the_comparison_prints_what_readme_shows(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    command = next(words for page, words in COMMANDS if page == "README.md" and words.startswith("twinslot compare"))
    assert main(shlex.split(command)[1:]) == 1
    printed = [line.replace("\u202f", " ").rstrip() for line in capsys.readouterr().out.split("\n")]
    shown = README[README.index("```text\n3 of") :].split("```")[1].split("\n")[1:-1]
    for line in (line.rstrip() for line in shown if line != "..."):
        assert line in printed
        printed = printed[printed.index(line) + 1 :]


def test_the_check_and_the_notebook_of_readme_run(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    command = next(words for page, words in COMMANDS if page == "README.md" and words.startswith("twinslot check"))
    assert main(shlex.split(command)[1:]) == 0
    assert "Signals: " in capsys.readouterr().out
    lines = re.search(r"((?:^    [^\n]+\n)+)", README[README.index("    from tracecore") :], re.MULTILINE)[1].split(
        "\n"
    )
    lines = [line.strip() for line in lines if line]
    assert len(lines) == 3
    known: dict[str, object] = {}
    exec("\n".join(lines), known)
    assert len(eval(lines[-1], known)) == 16


def test_as_many_parts_are_named_as_there_are():
    page = (ROOT / "app/help/command_line.md").read_text("utf-8")
    assert int(re.search(r"(\d+) parts", page)[1]) == len(all_parts())
