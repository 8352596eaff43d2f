"""The materials, one TOML file each."""
