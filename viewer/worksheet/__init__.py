"""The worksheet drawn: a piece from the top and from underneath, HTML and PDF."""
