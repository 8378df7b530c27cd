"""Plane geometry with no knowledge of drawings."""
