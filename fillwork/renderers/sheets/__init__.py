"""Sheets to print: pages, numbers, key, steps, masks, schedule."""
