"""Where something came from and where it went."""
