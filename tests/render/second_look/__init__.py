"""Pieces, ends and edges cut from the same solids as the boards; changes no other picture."""
