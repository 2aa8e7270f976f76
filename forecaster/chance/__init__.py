"""What the air may do next, and how good a forecast has been."""
