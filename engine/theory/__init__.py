"""Spelled pitches, intervals, degrees, chords and keys: the facts all else stands on."""
