"""Mechanics of solids: laminates, the fin as a plate, its root, the joint, rings and impact."""
