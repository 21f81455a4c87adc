"""Bed sheets and the chart of ground cover."""
