"""Planting points and how plants share the ground in space and time."""
