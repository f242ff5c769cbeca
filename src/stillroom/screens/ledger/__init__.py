"""The ledger page."""
