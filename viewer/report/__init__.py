"""The report: one page that opens anywhere, made of what was compared and drawn."""
