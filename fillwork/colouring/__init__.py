"""Palettes, colour differences, and which kind takes which swatch."""
