"""What a fix takes with hands: joints, holes, opened pieces, wire, and what can go wrong."""
