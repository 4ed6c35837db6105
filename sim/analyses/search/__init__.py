"""Find all the smallest sets of changes that cure a layout, and prove them the smallest."""
