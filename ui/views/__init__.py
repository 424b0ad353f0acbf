"""What the page shows, one errand a module."""
