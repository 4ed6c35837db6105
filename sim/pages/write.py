"""Write a document: to a file, whole or not at all, or to standard output."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from sim.records.whole import whole

STANDARD_OUTPUT = "-"


def to_json(document: object) -> str:
    """One stable text for one document: keys in the order given, a line feed at the end."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def write_text_atomically(path: str | Path, text: str) -> None:
    """Write ``text`` as UTF-8 to ``path``, as :func:`sim.records.whole.whole` does.

    ``-`` is standard output.  Raises ``OSError`` where that is not possible.
    """
    if str(path) == STANDARD_OUTPUT:
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    write_bytes_atomically(path, text.encode("utf-8"))


def write_bytes_atomically(path: str | Path, data: bytes) -> None:
    """The same for bytes, which go to files only."""
    with whole(path) as file:
        file.write_bytes(data)
