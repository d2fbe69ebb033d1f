"""The verbs of the command line. They are for terminals only: the browser does not get them."""
