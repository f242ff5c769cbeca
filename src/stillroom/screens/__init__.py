"""The full-screen program: the only part that knows Textual."""
