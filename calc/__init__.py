"""Finstock's one package: choose a small rocket's fin so that it holds, and show why.

The story, in the order of its imports: `units` and `atmosphere` know nobody; `materials` give
`layup`, which with a `planform` makes a `plate`; plate and air (`lifting_surface`, `strip`,
`supersonic`) meet in `aeroelastic`; `check` gathers every way to fail; `calculators` ask it
questions; `render` turns their reports into pages.
"""

__version__ = "0.1.0"
