"""Campaigns: many replications of a whole day, kept on disk as they end."""
