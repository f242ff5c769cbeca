"""The shelf as a file: backups, checks, the sample shelf."""
