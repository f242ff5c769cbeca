"""Where a bottle came from, and where a herb or spirit went."""
