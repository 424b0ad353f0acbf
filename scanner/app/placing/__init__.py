"""Boards and a parts list in, a layout and its sheets out; again after every change."""
