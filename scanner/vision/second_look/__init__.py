"""Reads later photographs: pieces, ends, edges, a second light."""
