"""Tests of the reader's own sheet: readings, material estimates and the pitch of a recording."""
