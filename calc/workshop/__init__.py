"""Work at the bench: cutting plans, templates, printed codes and finishes."""
