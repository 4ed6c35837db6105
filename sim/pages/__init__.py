"""What the program says: pages for people, documents for other programs."""
