"""The neck: instruments with frets, and how a line lies on them."""
