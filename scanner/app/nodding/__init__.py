"""What the user says of flaws and faces."""
