"""Plane geometry: the outline of a fin and polygons."""
