"""First steps: the scenarios that are shipped, and a first one of one's own."""
