"""Finished replications on disk, and what can stop a campaign.

What can stop a campaign.

Finished replications on disk: append-only lines, each with its checksum.

A line is written whole and pushed to the disk before the next run is counted as
done, so whatever happens loses at most the runs in flight.  On reading, a line
cut short at the end is dropped, and a damaged one is run again.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from hashlib import blake2b
from pathlib import Path
from typing import Any, Self

from sim.judge.campaign_plan import Outcome, Task, from_line
from sim.records.version import RESULTS


class CampaignError(Exception):
    """The campaign cannot go on. The message says what was expected, and what was found."""


#: 2: causes are facts, where 1 had sentences.
FORMAT_VERSION = 2
CHECK_DIGITS = 16
_BEGUN = re.compile(rb"[0-9a-f]{1,16}( (\{.*)?)?$")


def checked(text: str) -> bytes:
    """A line of the file: checksum, blank, text, line feed."""
    raw = text.encode()
    return blake2b(raw, digest_size=CHECK_DIGITS // 2).hexdigest().encode() + b" " + raw + b"\n"


def text_of(line: bytes) -> str | None:
    """The text in a line, None where its checksum does not fit."""
    check, _, raw = line.rstrip(b"\n").partition(b" ")
    if blake2b(raw, digest_size=CHECK_DIGITS // 2).hexdigest().encode() != check:
        return None
    return raw.decode("utf-8", "replace")


class Store:
    """One campaign's file, open for appending. Made by :func:`open_store`."""

    def __init__(self, path: Path, handle: int) -> None:
        self.path = path
        self._handle = handle
        #: place of each finished replication's line: (offset, length)
        self.places: dict[Task, tuple[int, int]] = {}
        self.damaged = 0
        self._end = 0

    def append(self, outcome_line: str) -> None:
        """Keep a finished replication. Raises :class:`CampaignError` on a full disk."""
        task = from_line(outcome_line).task
        self.places[task] = self._write(checked(outcome_line))

    def _write(self, line: bytes) -> tuple[int, int]:
        try:
            left = line
            while left:
                left = left[os.write(self._handle, left) :]
            os.fsync(self._handle)
        except OSError as error:
            raise CampaignError(
                f"cannot write {str(self.path)!r}: {error.strerror}. "
                f"{len(self.places)} finished replications are safe in it; make room and go "
                "on with --resume"
            ) from error
        place = (self._end, len(line))
        self._end += len(line)
        return place

    def read(self, task: Task) -> Outcome:
        """A finished replication, read again from the file."""
        offset, length = self.places[task]
        text = text_of(os.pread(self._handle, length, offset))
        if text is None:
            raise CampaignError(
                f"expected {str(self.path)!r} to stay as it was written, but the line of "
                f"replication {task.replication} has changed"
            )
        return from_line(text)

    def close(self) -> None:
        """Let go of the file."""
        os.close(self._handle)

    def __enter__(self) -> Self:
        """The store itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go of the file."""
        self.close()

    def load(self, digest: str, about: dict[str, Any]) -> None:
        """Find the finished replications; drop what was cut short at the end.

        Raises :class:`CampaignError` where the file is of another campaign.
        """
        raw = self.path.read_bytes()
        lines = list(_lines(raw))
        if not lines and _BEGUN.match(raw):  # cut short within its first line
            os.ftruncate(self._handle, 0)
            self.start(digest, about)
            return
        head = _head(raw[slice(*lines[0])]) if lines else None
        if head is None:
            raise CampaignError(f"expected a campaign's file, got {str(self.path)!r}")
        if head.get("results") != RESULTS:
            raise CampaignError(
                f"{str(self.path)!r} was kept by another version of this program, whose runs "
                f"come out otherwise: expected results {RESULTS}, got "
                f"{head.get('results', 'none')}. Begin anew with another --keep"
            )
        if head.get("digest") != digest:
            raise CampaignError(
                f"{str(self.path)!r} is of another campaign: expected the same scenario, "
                "seed and duration"
            )
        self._end = lines[-1][1]
        os.ftruncate(self._handle, self._end)
        for start, end in lines[1:]:
            text = text_of(raw[start:end])
            try:
                task = None if text is None else from_line(text).task
            except ValueError:
                task = None
            if task is None:
                self.damaged += 1
            else:
                self.places[task] = (start, end - start)

    def start(self, digest: str, about: dict[str, Any]) -> None:
        """Write the first line of a new file."""
        head = {
            "format_version": FORMAT_VERSION, "results": RESULTS, "digest": digest, **about
        }  # fmt: skip
        self._write(checked(json.dumps(head, ensure_ascii=False)))


def _lines(raw: bytes) -> Iterator[tuple[int, int]]:
    """Start and end of each line that has its line feed."""
    start = 0
    while (end := raw.find(b"\n", start)) >= 0:
        yield start, end + 1
        start = end + 1


def _head(line: bytes) -> dict[str, Any] | None:
    text = text_of(line)
    try:
        head = None if text is None else json.loads(text)
    except ValueError:
        return None
    return head if isinstance(head, dict) else None


def open_store(path: Path, digest: str, about: dict[str, Any], resume: bool) -> Store:
    """A new file, or with ``resume`` one that is there already.

    ``about`` goes into the first line, for people who look into the file.  Raises
    :class:`CampaignError` where it is there and should not be, or cannot be used.
    """
    if path.exists() and not path.is_file():
        raise CampaignError(f"expected an ordinary file to keep runs in, got {str(path)!r}")
    exists = path.exists() and path.stat().st_size > 0
    if exists and not resume:
        raise CampaignError(
            f"{str(path)!r} is there already: go on with --resume, or name another file "
            "with --keep"
        )
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o666)
    except OSError as error:
        raise CampaignError(f"cannot write {str(path)!r}: {error.strerror}") from error
    store = Store(path, handle)
    try:
        _lock(handle, path)
        if exists:
            store.load(digest, about)
        else:
            store.start(digest, about)
    except BaseException:
        store.close()
        raise
    return store


def _lock(handle: int, path: Path) -> None:
    """Keep a second campaign out of the file, where the system can."""
    try:
        import fcntl
    except ImportError:
        return
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise CampaignError(f"another campaign is writing {str(path)!r}") from error
    except OSError:  # a file system without locks
        return
