"""Photos of a board in, a board and its flat pictures out; strips and cards to lay beside it."""
