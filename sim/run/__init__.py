"""Trains moving over the layout, event by event."""
