"""The command line as a reader, a script and a shell meet it."""
