"""Where a bottle came from, and where a herb or a spirit went: trees that agree with the ledger."""
