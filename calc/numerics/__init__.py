"""General numerical tools: integration of equations of motion and sampling of uncertainty."""
