"""The board as a value: faces, flaws, form, volume."""
