"""Bands: lines followed as strands, woven into strapwork, and strapwork found again."""
