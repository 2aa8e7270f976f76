"""A forecast of the soil: a place understood, its air to come, the members of its future."""
