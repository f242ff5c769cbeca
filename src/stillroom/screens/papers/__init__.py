"""Forms for what is printed or carried along."""
