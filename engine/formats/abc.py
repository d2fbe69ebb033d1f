"""Lines in ABC, the text format of the open standard (version 2.1, 2011): one tune is one line."""

from __future__ import annotations

from engine.formats.abc_reader import read_abc
from engine.formats.abc_writer import write_abc
from engine.formats.file_fault import FileFault

__all__ = ["FileFault", "read_abc", "write_abc"]
