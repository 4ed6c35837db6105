"""Statistics over records, and fixes compared on the same luck."""
