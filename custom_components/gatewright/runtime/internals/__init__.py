"""Parts of Home Assistant that it doesn't promise to keep: each is used in one module here, and nowhere else.

Where another release has changed one, what needs it is left out, a repair says what is missing and what to do instead,
and everything else works on.
"""
