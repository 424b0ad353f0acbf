"""How the weights of the learned finder are made; nothing here is imported at run time."""
