"""Palettes: files, checks, pigments, colours drawn from a picture."""
