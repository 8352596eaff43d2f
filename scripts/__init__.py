"""What builds, serves, tests and measures the site; `calc` itself needs none of it."""
