"""The rocket's flight: motors, ascent, stability and what fin mass does to height."""
