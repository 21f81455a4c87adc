"""What was measured in the field afterwards."""
