"""What every room uses: units, numbers, errors, whole files, the program's name."""
