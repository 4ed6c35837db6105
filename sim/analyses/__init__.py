"""What can be asked without a run: faults, odds, cures, handwork, neighbours."""
