"""What may be drawn, in world units, and the ways to draw it: text, SVG, bitmap."""
