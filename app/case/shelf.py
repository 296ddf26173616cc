"""The captures of a case: held by name and hash, read again only when somebody looks at them.

A capture's file is put into the case, compressed, part by part. One that is larger than the chosen size stays
outside and is known again by its SHA-256; it is read only after somebody agreed to its path (``linked_files``).
"""

from __future__ import annotations

import hashlib
import secrets
import tempfile
import zlib
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from app.case.errors import CaptureAbsent, CaseDamaged, NotAgreed
from app.case.lead_corrections import leads_of
from app.case.linked_files import LinkedFiles
from app.case.read_settings import read_settings_of
from app.case.unpack import unpacked
from app.case.values import HeldCapture

if TYPE_CHECKING:
    from app.case.store import CaseStore
    from tracecore.capture import Capture

Tell = Callable[[float, str], None]
PART_BYTES = 4 << 20
LARGEST_INSIDE_BYTES = 512 << 20
"""Files up to this size go into the case unless a person chose another limit."""
_GZIP = b"\x1f\x8b"


def hold(
    capture: Capture,
    *,
    sample_rate: Fraction | None = None,
    layout: str | None = None,
    said: tuple[tuple[str, str], ...] = (),
) -> HeldCapture:
    """What a case keeps of a capture that was just read, with what a person said of its file."""
    path = Path(capture.path) if capture.path else None
    # numpy is slow to import, and the first window waits for this module
    from app.case.activity_thumbnail import shades

    return HeldCapture(
        key=secrets.token_hex(6),
        name=capture.name,
        path=str(path.absolute()) if path else "",
        sha256=capture.sha256,
        size_bytes=path.stat().st_size if path and path.exists() else 0,
        reader=capture.reader,
        resolution_ps=capture.resolution_ps,
        start_ps=capture.start_ps,
        stop_ps=capture.stop_ps,
        channels=capture.channels,
        facts=capture.facts,
        notes=capture.notes,
        sample_rate="" if sample_rate is None else str(sample_rate),
        layout=layout or "",
        said=said,
        shades=shades(capture),
    )


class Shelf:
    """Captures that were read, and the way to read the others. All methods may be called from any thread."""

    def __init__(self, store: CaseStore, linked: LinkedFiles | None = None) -> None:
        self._store = store
        self._linked = linked or LinkedFiles()
        self._read: dict[tuple[object, ...], Capture] = {}
        self._presented: dict[tuple[object, ...], Capture] = {}

    def add(self, held: HeldCapture, capture: Capture) -> None:
        """Keeps a capture that was just read from a file that somebody chose."""
        self.carry(held, capture)
        for own in held.files:
            if own.path:
                self._linked.agree(own.sha256, own.path)

    def carry(self, held: HeldCapture, capture: Capture) -> None:
        """Keeps a capture that was read before, wherever from."""
        self._read[_content(held)] = capture

    def loaded(self, held: HeldCapture) -> Capture | None:
        """The capture, if it was read already; named, and its leads exchanged, as the case says."""
        capture = self._read.get(_content(held))
        if capture is None or (capture.name == held.name and not held.reclipped and not held.called):
            return capture
        key = held.key, held.name, held.clipping, held.called
        if key not in self._presented:
            self._presented[key] = _presented(capture, held)
        return self._presented[key]

    def load(self, held: HeldCapture, tell: Tell | None = None) -> Capture:
        """The capture, read now if need be. Raises CaptureAbsent where its file is not to be had."""
        found = self.loaded(held)
        if found is not None:
            return found
        if self._store.has_blob(held.sha256):
            with tempfile.TemporaryDirectory(prefix="twinslot-") as folder:
                taken = Path(folder) / "capture"
                self.write_out(held, taken)
                capture = _read(taken, held, tell)
        else:
            path = self._file_of(held)
            capture = _read(path, held, tell)
        if capture.sha256 != held.sha256:
            raise self._absent(held, "is not the same file any more (its SHA-256 differs)")
        capture = replace(capture, path=held.path)
        if held.parts:
            from tracecore.sides.join import joined

            capture = joined((capture, *(self.load(part, tell) for part in held.parts)), held.parts_by)
        if held.scope is not None:
            capture = _joined(capture, self.load(held.scope, tell), held)
        self.carry(held, capture)
        loaded = self.loaded(held)
        assert loaded is not None
        return loaded

    def write_out(self, held: HeldCapture, path: Path) -> None:
        """Writes the file as it came in, from the case to ``path``; checks it against its hash."""
        digest = hashlib.sha256()
        with path.open("wb") as out:
            for part in self._store.blob_parts(held.sha256):
                data = _expanded(part, held)
                digest.update(data)
                out.write(data)
                if held.size_bytes and out.tell() > held.size_bytes:
                    break
        if digest.hexdigest() != held.sha256:
            raise CaseDamaged(
                f"{held.name}: what the case holds of it is not what came in (its SHA-256 differs). "
                "Rescue the case, and add the file again."
            )

    def wants_in(self, held: HeldCapture, largest_bytes: int = LARGEST_INSIDE_BYTES) -> bool:
        """Should its file go into the case, and is it not there yet?"""
        if self._store.read_only or self._store.path is None or not held.sha256:
            return False
        return any(
            own.size_bytes <= largest_bytes and self._linked.allows(own.sha256, own.path) and self._outside(own)
            for own in held.files
        )

    def _outside(self, held: HeldCapture) -> bool:
        return not self._store.has_blob(held.sha256) and Path(held.path).is_file()

    def take_in(self, held: HeldCapture, tell: Tell | None = None) -> None:
        """Puts the capture's file into the case, where it still is the file that the case names by its hash. Until the
        last part is there it counts as outside. A joined capture has two."""
        own, *joined = held.files
        if not joined or self._outside(own):
            self._take_in(own, tell)
        for other in joined:
            if self._outside(other) and self._linked.allows(other.sha256, other.path):
                self._take_in(other, tell)

    def _take_in(self, held: HeldCapture, tell: Tell | None) -> None:
        if _sha256_of(Path(held.path)) != held.sha256:
            raise self._absent(held, "is not the same file any more (its SHA-256 differs)")
        digest, done = hashlib.sha256(), 0
        self._store.begin_blob(held.sha256, held.size_bytes)
        for part, data in enumerate(_parts(Path(held.path))):
            digest.update(data)
            level = 0 if part == 0 and data.startswith(_GZIP) else 1
            self._store.add_blob_part(held.sha256, part, zlib.compress(data, level))
            done += len(data)
            if tell:
                tell(done / max(1, held.size_bytes), f"putting {held.name} into the case")
        if digest.hexdigest() != held.sha256:
            self._store.drop_blob(held.sha256)
            raise self._absent(held, "changed while it was put into the case")
        self._store.end_blob(held.sha256)

    def _file_of(self, held: HeldCapture) -> Path:
        """The linked file where it was, or beside the case under the same name."""
        for path in self._places(held):
            allowed = self._linked.allows(held.sha256, path)
            # to look whether a file is on another machine's share tells that machine who asks
            unseen = not allowed and str(path).startswith(("\\\\", "//"))
            if unseen or (path.is_file() and (path == Path(held.path) or path.stat().st_size == held.size_bytes)):
                if allowed:
                    return path
                raise NotAgreed(
                    f"{held.name}: this case names the file {path}, which stays outside it. It is read only after you "
                    "agree to that path: answer the question in the window, or add --linked on the command line.",
                    path,
                )
        raise self._absent(held, "is not there")

    def _places(self, held: HeldCapture) -> tuple[Path, ...]:
        was = Path(held.path)
        beside = self._store.path.absolute().parent / was.name if self._store.path and was.name else None
        return tuple(path for path in (was, beside) if path is not None and path.name)

    def unagreed(self, captures: Iterable[HeldCapture]) -> tuple[Path, ...]:
        """Files outside the case that its captures name, are there, and nobody has agreed to yet."""
        asked: dict[Path, None] = {}
        for held in (own for capture in captures for own in capture.files):
            if self.loaded(held) is None and not self._store.has_blob(held.sha256):
                try:
                    self._file_of(held)
                except NotAgreed as error:
                    asked[error.path] = None
                except CaptureAbsent:
                    continue
        return tuple(asked)

    def agree(self, captures: Iterable[HeldCapture], shown: Collection[Path] | None = None) -> None:
        """Somebody said yes to files that these captures name: to all, or to those that were ``shown``."""
        for held in (own for capture in captures for own in capture.files):
            for path in self._places(held):
                if shown is None or path in shown:
                    self._linked.agree(held.sha256, path)

    def _absent(self, held: HeldCapture, why: str) -> CaptureAbsent:
        place = f", or put it beside {self._store.path}" if self._store.path else ""
        return CaptureAbsent(
            f"{held.name}: its file {held.path} {why}; it stays outside this case and is known by SHA-256 "
            f"{held.sha256[:12]}. Bring the file back to that place{place}."
        )


def _content(held: HeldCapture) -> tuple[object, ...]:
    """What decides a capture's samples: the file's bytes and what was said of them."""
    own: tuple[object, ...] = held.sha256 or held.key, held.sample_rate, held.layout, held.said
    if held.parts:
        own = (*own, held.parts_by, *(_content(part) for part in held.parts))
    return own if held.scope is None else (*own, held.through, _content(held.scope))


def _joined(logic: Capture, scope: Capture, held: HeldCapture) -> Capture:
    """Both instruments' channels on the logic one's time."""
    from tracecore.lineup.one_run import join_through

    return join_through(logic, scope, (held.through[0], held.through[1])).capture


def _presented(capture: Capture, held: HeldCapture) -> Capture:
    """The capture under the case's names, each channel with the trace of the lead that reads it."""
    import numpy as np

    from tracecore.capture import DigitalTrace
    from tracecore.sides.names import renamed

    capture = renamed(capture, dict(held.called))

    opposite = np.array([1, 0, 2], np.uint8)
    leads = leads_of(replace(held, channels=capture.channels))
    digital = {channel: capture.digital[lead] for channel, lead in leads.items() if lead in capture.digital}
    for channel, trace in digital.items():
        if leads[channel] in held.inverted:
            digital[channel] = DigitalTrace(trace.times_ps, opposite[trace.levels], trace.stop_ps)
    return replace(
        capture,
        name=held.name,
        digital=digital,
        analog={channel: capture.analog[lead] for channel, lead in leads.items() if lead in capture.analog},
    )


def _read(path: Path, held: HeldCapture, tell: Tell | None) -> Capture:
    from tracecore.readers import read_capture

    return read_capture(path, name=held.name, progress=tell, **read_settings_of(held).arguments)


def _parts(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while data := file.read(PART_BYTES):
            yield data


def _sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _expanded(part: bytes, held: HeldCapture) -> bytes:
    try:
        return unpacked(part, PART_BYTES)
    except ValueError as error:
        raise CaseDamaged(
            f"{held.name}: a part of it in the case cannot be unpacked ({error}). Rescue the case, and add the "
            "file again."
        ) from error
