"""Write a document: to a file, whole or not at all, or to standard output."""

from __future__ import annotations

import json
import os
import sys
import tempfile
from pathlib import Path

STANDARD_OUTPUT = "-"


def to_json(document: object) -> str:
    """One stable text for one document: keys in the order given, a line feed at the end."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def write_text_atomically(path: str | Path, text: str) -> None:
    """Write ``text`` as UTF-8 beside ``path``, then rename it into place.

    Whoever reads ``path`` sees the old file or the new one, never half of one.
    ``-`` is standard output.  Raises ``OSError`` where that is not possible.
    """
    if str(path) == STANDARD_OUTPUT:
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    write_bytes_atomically(path, text.encode("utf-8"))


def write_bytes_atomically(path: str | Path, data: bytes) -> None:
    """The same for bytes, which go to files only."""
    target = Path(path)
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        beside.chmod(_mode(target))
        beside.replace(target)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def _mode(target: Path) -> int:
    """Permissions as an ordinary new file would get, or as the old file has."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
