"""The calculator page."""
