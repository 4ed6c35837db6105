"""Write a file whole or not at all, and leave alone whatever is no ordinary file.

A device, a FIFO or an open descriptor (``/dev/fd/3``, as a shell's ``>(...)`` gives)
is written to; it is never replaced.  A symbolic link stays: what it leads to is
written.
"""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

#: A chain of more links than this leads nowhere.
LINKS_AT_MOST = 40


@contextmanager
def whole(path: str | Path, ending: str = "") -> Iterator[Path]:
    """A file to write in place of ``path``; what it holds is there once the block ends.

    Whoever reads ``path`` sees the old file or the new one, never half of one.  The
    file to write has a name that ends in ``ending``.  An exception in the block leaves
    ``path`` as it was.  Raises ``OSError`` where it cannot be written.
    """
    if _is_stream(path):
        with tempfile.TemporaryDirectory() as folder:
            made = Path(folder, f"made{ending}")
            made.touch()
            yield made
            with made.open("rb") as source, _stream(path) as stream:
                shutil.copyfileobj(source, stream)
        return
    target = Path(os.path.realpath(path))
    handle, name = tempfile.mkstemp(ending, f".{target.name[:60]}.", target.parent)
    os.close(handle)
    beside = Path(name)
    try:
        yield beside
        beside.chmod(_mode(target))
        beside.replace(target)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def _is_stream(path: str | Path) -> bool:
    """True for what exists and can only be written to: no file that could be replaced."""
    if _descriptor(path) is not None:
        return True
    try:
        return not stat.S_ISREG(Path(path).stat().st_mode)
    except FileNotFoundError:
        return False


def _stream(path: str | Path) -> BinaryIO:
    """``path`` to write to, from where an open descriptor stands."""
    number = _descriptor(path)
    return os.fdopen(os.open(path, os.O_WRONLY) if number is None else os.dup(number), "wb")


def _descriptor(path: str | Path) -> int | None:
    """The descriptor of this process that ``path`` names or is a link to, if any."""
    here = Path.cwd() / path
    own = os.path.realpath("/dev/fd")
    for _ in range(LINKS_AT_MOST):
        name = here.name
        if name.isascii() and name.isdecimal() and os.path.realpath(here.parent) == own:
            return int(name[:9])
        if not here.is_symlink():
            return None
        here = here.parent / here.readlink()
    return None


def _mode(target: Path) -> int:
    """Permissions as an ordinary new file would get, or as the old file has."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
