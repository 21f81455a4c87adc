"""What stands beside what at the same time: two plants on one place, and plants nearer than their plantings ask."""
