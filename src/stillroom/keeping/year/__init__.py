"""The year of a shelf: what was made and used, what it cost, who got it, what to make next."""
