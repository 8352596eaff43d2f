"""The whole fin: margins, verdict and the search for materials that hold."""
