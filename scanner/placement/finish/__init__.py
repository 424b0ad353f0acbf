"""From chosen patterns to a layout: assembled, gaps filled, spares laid, former places kept."""
