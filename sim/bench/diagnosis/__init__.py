"""Which faults explain what was read, and what to read next: one engine for every model."""
