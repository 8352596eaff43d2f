"""The pictures themselves, one module for each thing that is drawn."""
