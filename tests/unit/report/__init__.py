"""What is shown and written."""
