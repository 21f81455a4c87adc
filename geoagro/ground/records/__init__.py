"""What the ground hands to its product."""
