"""Reading: files in, checked values in the working CRS out."""
