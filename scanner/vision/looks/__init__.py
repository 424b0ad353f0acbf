"""How a board looks: colour, figure, rings and their order."""
