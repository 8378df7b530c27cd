"""Faces compared with each other: measures, congruence, places under shifts."""
