"""Find out how an unknown piece is wired, from readings between places on its rails."""
