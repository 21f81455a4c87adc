"""What all values share: comparing, printing, the small map, its colours, and the guard of the CRS."""
