"""
Drawings made from numbers: SVG text for pages and packets alike.

Pure: no Django, no models, no files. Each function takes plain values and a ``Palette`` and returns SVG text whose
every word is escaped. ``svg`` builds elements, ``palette`` says how colours are written (classes on a screen, literal
values on paper), the other modules draw one thing each.
"""
