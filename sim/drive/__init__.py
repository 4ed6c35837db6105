"""Whether a train gets over it: drives, and layouts that are in order."""
