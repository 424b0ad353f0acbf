"""From boards and a parts list to a layout."""
