"""Forms about the shelf file itself."""
