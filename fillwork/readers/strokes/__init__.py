"""What readers of every format share: strokes gathered, cut, hidden, chosen, told."""
