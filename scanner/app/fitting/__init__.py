"""Parts seen together before anything is cut, and boards that look alike."""
