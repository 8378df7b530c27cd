"""The safe front gate: bytes in, elements out."""
