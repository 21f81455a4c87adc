"""Lay out, mark, plan and account for successional agroforestry fields on real ground, from files."""
