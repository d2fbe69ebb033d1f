"""The Linekeeper engine: jazz theory, lines and drills in pure Python.

The same code runs on CPython (build, tests, terminal) and in the browser.
It needs nothing but the standard library.
"""
