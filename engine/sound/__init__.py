"""What is heard, as plain data: a rhythm section that plays any changes, and lines over it."""
