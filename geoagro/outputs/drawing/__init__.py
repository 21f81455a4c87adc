"""What every picture shares: page, frame, ground, lines, looks."""
