"""Areas, counts and quality: sums over the finished layers."""
