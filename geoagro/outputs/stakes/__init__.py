"""Stake-out files, sheets, surveys and sample plots."""
