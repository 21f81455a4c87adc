"""What an officer looks for, worked out from a layout."""
