"""What the page shows of a lot, as plain values."""
