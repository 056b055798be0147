"""What is made of a placed train: every gear with its tooth form, jigs, arbors, posts, rollers and stands, weighed.

In: a design and a train. Out: the inventory.

May import: design, forms.
"""
