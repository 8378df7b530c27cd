"""The plan file, quantities of paint and leaf, and the order of painting."""
