"""The shelf as files: a folder of CSV out and in, JSON out, and a person's own notebook in."""
