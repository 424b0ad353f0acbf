"""The road on every page: five steps, how far each is, and the way to it."""
