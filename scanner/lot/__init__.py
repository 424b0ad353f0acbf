"""What a lot of boards holds: totals and money."""
