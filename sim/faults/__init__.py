"""The one vocabulary of faults: where each is possible, what it does, how likely it is."""
