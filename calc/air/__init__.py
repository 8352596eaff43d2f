"""The air: atmosphere and the aerodynamic theories from subsonic to supersonic."""
