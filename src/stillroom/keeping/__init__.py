"""The verbs of the stillroom: one transaction each; and the views that screens and paper show."""
