"""Exact odds: probabilities without sampling, and what decides them."""
