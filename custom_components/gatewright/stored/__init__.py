"""What is stored of a system, typed: one table of fields, one reader, one writer.

Start with `config.py`. Home Assistant keeps the settings of a system as plain data; a
field of it is declared once, in `system.py` or `parts.py`. All values are SI units and
seconds unless a field says otherwise.
"""
