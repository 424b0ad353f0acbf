"""Reads later photographs: pieces, ends, edges, lines drawn on a face."""
