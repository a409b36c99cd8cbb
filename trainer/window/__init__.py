"""The window: one page a file, and the parts that pages are drawn with."""
