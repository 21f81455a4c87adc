"""What the years ask for beside planting: rotation, free ground, orders, outlets, nutrients, climate, cautions, rates."""
