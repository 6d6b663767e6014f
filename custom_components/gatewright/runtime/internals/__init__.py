"""Parts of Home Assistant without a stable interface, each used in one module here.

If another release changed one, whatever needs it is left out, a repair says what is
missing and what to do instead, and everything else keeps working.
"""
