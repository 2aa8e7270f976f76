"""What in a file looks wrong: units, suspects, mistaken columns, rows counted."""
