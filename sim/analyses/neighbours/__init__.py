"""A module among other neighbours: where a fix is safe, and the card that says so."""
