"""What is read off a solved field: Bl(x), strokes, gap profile, working points, flux budget."""
