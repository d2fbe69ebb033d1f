"""Drills: questions that are right or wrong, and why. One module a drill, one row of the catalogue."""
