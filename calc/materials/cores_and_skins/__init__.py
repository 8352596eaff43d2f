"""Cores and skins of faced sheets, one TOML file each: nobody makes a fin of one alone."""
