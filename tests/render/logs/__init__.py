"""Several boards sawn from one log: they share its rings, its colour and its sapwood."""
