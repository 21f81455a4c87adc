"""Small typed records that travel between the rooms; they open no files and compute no layout."""
