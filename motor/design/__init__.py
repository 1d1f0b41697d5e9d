"""A design: what is drawn, wound, hung and driven; read from TOML and written back."""
