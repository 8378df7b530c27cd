"""SVG drawings (SVG 1.1 and 2): the standard's geometry, read for its lines."""
