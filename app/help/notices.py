"""The guide's page on notices, made from the table of all of them."""

from __future__ import annotations

from tracecore.notices import NOTICE_KINDS, WORST_FIRST, Severity

_HEADS: dict[Severity, str] = {
    "doubt": "In doubt: nothing is called “agrees” beside one of these",
    "look": "Worth a look",
    "info": "To know",
}


def notices_guide() -> str:
    """Markdown: each notice with what it means, an example, and what to do."""
    parts = ["## Notices", "", "The word in small letters is the notice's code, which scripts find in the JSON.", ""]
    for severity in WORST_FIRST:
        parts += [f"### {_HEADS[severity]}", ""]
        for code, kind in NOTICE_KINDS.items():
            if kind.severity == severity:
                do = f" {kind.do}" if kind.do else ""
                parts += [f"- **{kind.meaning}** `{code}`. For example: “{kind.example}”{do}"]
        parts.append("")
    return "\n".join(parts)
