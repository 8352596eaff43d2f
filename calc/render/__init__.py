"""From reports to pages: the one place where HTML, SVG and terminal text are written."""
