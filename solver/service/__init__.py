"""Designs and sweeps over HTTP, solved in processes of their own, and the page to watch them on. Here is what all of
it shares: limits and errors.

May import: nothing.
"""
