"""The file borders: board, layout, parts list and shop settings, checked on the way in and out."""
