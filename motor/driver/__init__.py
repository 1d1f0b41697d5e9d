"""The driver around the motor: moving parts, box, amplifier, heat, and what is heard."""
