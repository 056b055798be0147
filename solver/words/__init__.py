"""What the command line, the pages, the sheets and the files say alike: text as it may be shown, numbers, lengths,
settings, cells of CSV.

In: plain values. Out: text.

May import: nothing.
"""
