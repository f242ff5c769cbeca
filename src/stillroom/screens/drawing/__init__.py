"""How a jar is drawn."""
