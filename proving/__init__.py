"""The proving ground: trials of halfsplit on worlds that it did not write.

Run from the top folder of the checkout, for example `python -m proving.measured`.
"""
