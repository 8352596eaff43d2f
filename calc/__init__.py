"""Finstock's one package: choose a small rocket's fin so that it holds, and show why.

The folders follow the order of the work. `geometry` and `structure` describe the outline and the
sheet as a plate, `materials` say what the sheet is made of, `air` and `flight` what it meets;
plate and air come together in `aeroelastic`; `fin` gathers every way to fail into a verdict;
`sheet_test` and `workshop` serve the bench; `calculators` answer questions, `render` turns their
reports into pages, and `frontends` are the ways in.
"""

__version__ = "1.0.0"
