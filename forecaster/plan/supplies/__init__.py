"""What to buy for a bed: plants and flats, bark and compost, feed."""
