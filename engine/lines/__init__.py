"""Lines: a few bars of melody over their chords, what they are made of, and how they are moved."""
