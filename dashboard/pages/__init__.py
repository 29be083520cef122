"""One file a page: a path, a layout, its callbacks. Nothing is read at module level; the missing case comes
first.
"""
