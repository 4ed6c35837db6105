"""Scenario: the file a builder writes, how it is read, and what may be wrong with it."""
