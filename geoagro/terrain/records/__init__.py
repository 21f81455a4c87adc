"""What the terrain hands to its product."""
