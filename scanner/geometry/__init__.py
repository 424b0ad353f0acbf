"""Pure geometry: frames, lines, polygons, what is printed where; no wood, no pictures."""
