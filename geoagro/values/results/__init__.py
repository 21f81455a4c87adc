"""What becomes of a layout: seals, options side by side."""
