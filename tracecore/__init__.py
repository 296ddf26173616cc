"""What a known-good and a suspect board did on the same pins, and where they part.

Pure computation: nothing in this package draws or knows a window. The one entry is
``tracecore.comparison.compare``.
"""
