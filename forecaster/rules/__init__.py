"""When the soil crosses a threshold, and what that means for planting."""
