"""Files for people and other programs."""
