"""The report as programs of other houses see it: a browser draws and prints the page, another reader draws the PDF."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from app.report import write_report
from demo_traces import CASES
from tracecore.circuit.probe_sheet import read_probe_sheet
from tracecore.comparison import CompareRequest, compare
from tracecore.readers import read_capture

CASE = CASES["receiver"]
BROWSER = shutil.which("chromium") or shutil.which("google-chrome") or shutil.which("chromium-browser")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    request = CompareRequest(
        (read_capture(CASE.good[0]),), (read_capture(CASE.suspect[0]),), read_probe_sheet(CASE.sheet), clock="MCLK"
    )
    folder = tmp_path_factory.mktemp("report") / "out"
    write_report(compare(request), folder, printed="2026-02-10")
    return folder


def drawn(path: Path) -> np.ndarray:
    """The picture as uint8[height, width, 3]; a blank one fails."""
    with Image.open(path) as opened:
        picture = np.asarray(opened.convert("RGB"))
    assert len(np.unique(picture.reshape(-1, 3), axis=0)) > 20
    return picture


def browse(tmp_path: Path, page: Path, *words: str) -> None:
    command = [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'profile'}"]
    subprocess.run([*command, *words, page.as_uri()], check=True, capture_output=True, timeout=120)


@pytest.mark.long
@pytest.mark.skipif(BROWSER is None, reason="no Chromium here")
def test_a_browser_draws_the_page_and_prints_it(folder: Path, tmp_path: Path) -> None:
    shot, printed = tmp_path / "page.png", tmp_path / "page.pdf"
    # one run for both: a browser takes longer to start than to draw and print
    both = f"--screenshot={shot}", f"--print-to-pdf={printed}", "--no-pdf-header-footer"
    browse(tmp_path, folder / "report.html", *both, "--window-size=1100,1400", "--hide-scrollbars")
    picture = drawn(shot).astype(int)
    # the suspect's vermilion is in the first figure, and nothing sticks out at the right
    assert (abs(picture - np.array([0xB2, 0x4F, 0x00])).sum(axis=2) < 30).sum() > 500
    assert (picture[:, -4:] == picture[0, -1]).all()
    text = "\n".join(page.extract_text() for page in PdfReader(printed).pages)
    assert "stuck low" in text
    assert "Before a hand goes into the cabinet" in text


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no pdftoppm here")
def test_another_reader_draws_every_page_of_the_pdf(folder: Path, tmp_path: Path) -> None:
    subprocess.run(["pdftoppm", "-r", "50", "-png", folder / "report.pdf", tmp_path / "p"], check=True, timeout=60)
    pictures = [drawn(path) for path in sorted(tmp_path.glob("p*.png"))]
    assert len(pictures) == len(PdfReader(folder / "report.pdf").pages)
    for picture in pictures:
        # margins stay white: nothing runs off the paper
        assert picture[:, :8].min() > 240
        assert picture[:, -8:].min() > 240
