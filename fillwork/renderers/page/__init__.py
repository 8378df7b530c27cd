"""What the page shows, as plain values and as one file."""
