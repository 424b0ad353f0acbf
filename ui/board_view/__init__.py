"""The board on the page: faces with flaws and parts drawn on them, and the outbox of taps."""
