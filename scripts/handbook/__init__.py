"""What builds the handbook's pages: the Markdown extension and all that a page may name."""
