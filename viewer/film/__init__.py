"""A run as a film: frames by the window's own drawing code, written by a library."""
