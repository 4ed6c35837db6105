"""What a command may raise to end with a sentence and an exit code."""

from __future__ import annotations

DONE = 0
UNUSABLE_INPUT = 1
UNUSABLE_ARGUMENTS = 2
INTERRUPTED = 130


class UsageError(Exception):
    """The arguments cannot be used: exit 2. The message says expected, got, where."""
