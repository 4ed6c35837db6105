"""The window: a run played back, and a hand that tries things on it."""
