"""Files for other tools, opened again with other libraries."""
