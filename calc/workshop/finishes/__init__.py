"""Data of finishing coats (coats.toml) and of finishing steps, one file per material family."""
