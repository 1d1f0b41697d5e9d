"""Tables: records as text."""
