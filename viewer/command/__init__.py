"""The commands that this package adds to ``gapwright``."""
