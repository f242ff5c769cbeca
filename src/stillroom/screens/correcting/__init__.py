"""The form that corrects any entry."""
