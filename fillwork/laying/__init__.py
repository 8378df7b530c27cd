"""Lay one cell over a whole panel: the cell, ways of going on, joins, placing."""
