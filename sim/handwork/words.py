"""What a builder changes, in words."""

from __future__ import annotations


def altered_words(key: str, value: object) -> str:
    """A parameter of a piece for people: ``frog_gaps = true`` is "with frog gaps"."""
    words = key.replace("_", " ")
    if isinstance(value, bool):
        return f"{'with' if value else 'without'} {words}"
    if words.endswith(" mm"):
        return f"{words.removesuffix(' mm')} {value} mm"
    return f"{words} {value}"
