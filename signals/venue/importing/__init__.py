"""A lap from somewhere else, as CSV or GeoJSON, made into a centreline that a venue file can name."""
