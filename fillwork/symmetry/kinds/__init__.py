"""Kinds of regions: classes under a group, families, figures, their names."""
