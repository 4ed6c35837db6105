"""Templates of pages: what is put into them is escaped, and nothing may be missing."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from viewer.escape import finalize


def templates(folder: Path) -> Environment:
    """The templates that lie in ``folder``."""
    return Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        finalize=finalize,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
