"""No layout can hold more than X: bounds, and layouts that the proof itself finds."""
