"""Devices: the named things that a stretch of a line does. A file for each family, a row for each device."""
