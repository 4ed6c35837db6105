"""Gapwright's model: pieces, layouts, power, motion and judgement. Draws nothing."""
