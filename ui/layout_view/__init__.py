"""The browser's side of the layout: parts that are taken in hand."""
