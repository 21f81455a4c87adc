"""Tree rows on real ground."""
