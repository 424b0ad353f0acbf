"""Photos of rough boards in, parts marked on them out."""

__version__ = "0.1.0"
