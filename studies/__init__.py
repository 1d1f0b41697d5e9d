"""Questions a designer asks, each answered by one command."""
