"""Letters: fonts, shaping, direction, bars under numbers, room for them."""
