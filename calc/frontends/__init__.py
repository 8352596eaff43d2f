"""Ways in from outside: the terminal, tables of questions and the browser's worker."""
