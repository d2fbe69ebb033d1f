"""Open formats that lines are read from and written to."""
