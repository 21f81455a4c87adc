"""Layouts that are good in different places, cut along seams where they agree and put together."""
