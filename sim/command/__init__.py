"""The ``gapwright`` command."""
