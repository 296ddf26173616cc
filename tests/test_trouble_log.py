"""What nobody foresaw is one sentence, and the whole of it stands in a file; nothing stays busy over it."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.trouble_log import MOST_BYTES, log_path, unforeseen


def test_it_is_written_down_and_the_sentence_says_where(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TWINSLOT_SETTINGS", str(tmp_path / "mine"))
    try:
        raise ZeroDivisionError("odd")
    except ZeroDivisionError as error:
        told = unforeseen(error)
    assert "ZeroDivisionError" in told
    assert str(log_path()) in told
    assert "test_trouble_log.py" in log_path().read_text("utf-8")
    log_path().write_text("x" * (MOST_BYTES + 1))
    unforeseen(ValueError("again"))
    assert log_path().stat().st_size < 1000


def test_without_a_place_the_sentence_alone_must_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("TWINSLOT_SETTINGS", str(tmp_path / "file" / "below"))
    assert "could not be written" in unforeseen(ValueError("x"))


def test_a_job_that_fails_in_an_unforeseen_way_is_not_busy_for_good(qtbot) -> None:
    from app.model.jobs import Jobs

    jobs, told = Jobs(), []
    jobs.request("read", lambda _tell: 1 // 0, told.append, told.append)
    qtbot.waitUntil(lambda: jobs.idle, timeout=120_000)
    assert "ZeroDivisionError" in told[0]
