"""Sky: where each body stands, and how its ring is brought there.

May import: answer, design.
"""
