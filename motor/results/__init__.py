"""What is read off a field, and the one function that solves a design."""
