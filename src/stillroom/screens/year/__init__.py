"""The Year page: what to make next, what was made and used, what strainings teach."""
