"""HTML and SVG text for questions, shapes and rounds. No style attributes: classes and SVG attributes only."""
