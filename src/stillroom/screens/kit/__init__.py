"""What every page and form is built from: frames, fields, tables, the key line."""
