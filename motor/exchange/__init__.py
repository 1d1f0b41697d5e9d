"""Files for other tools: field, mesh, drawing and solids, each format in its own file."""
