"""What a run leaves behind: flat, typed, read by statistics and by pictures."""
