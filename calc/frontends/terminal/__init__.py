"""The command line and tables of questions: what a reader's browser never downloads."""
