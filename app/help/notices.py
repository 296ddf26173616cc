"""The guide's page on notices, made from the table of all of them: ``python -m app.help.notices`` writes it anew."""

from __future__ import annotations

from pathlib import Path
from textwrap import wrap

from tracecore.notices import NOTICE_KINDS, WORST_FIRST, Severity

_HEADS: dict[Severity, str] = {
    "doubt": "In doubt: nothing is called “agrees” beside one of these",
    "look": "Worth a look",
    "info": "To know",
}


HEAD = (
    "What a line above the traces, a report or the command line may say of a comparison. "
    "The word in small letters is the notice's code, which scripts find in the JSON."
)
WIDE = 118
PAGE = Path(__file__).with_name("notices.md")


def notices_guide() -> str:
    """Markdown: each notice with what it means, an example, and what to do."""
    parts = ["# Notices", "", *wrap(HEAD, WIDE), ""]
    for severity in WORST_FIRST:
        parts += [f"## {_HEADS[severity]}", ""]
        for code, kind in NOTICE_KINDS.items():
            if kind.severity == severity:
                do = f" {kind.do}" if kind.do else ""
                words = f"- **{kind.meaning}** `{code}`. *Example.* “{kind.example}”{do}"
                parts += wrap(words, WIDE, subsequent_indent="  ", break_on_hyphens=False)
        parts.append("")
    return "\n".join([*parts, "All chapters: [Guide](guide.md).", ""])


if __name__ == "__main__":
    PAGE.write_text(notices_guide(), "utf-8")
