"""Pure geometry: frames, lines, polygons, rectangles; knows nothing of wood or pictures."""
