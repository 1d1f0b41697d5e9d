"""What people look at: tables, figures, files."""
