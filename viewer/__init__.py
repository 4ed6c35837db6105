"""Pictures of a layout and its runs: still, moving, in a window, on a page.

Reads cases, charts and records; nothing of ``sim`` knows that it exists.
``pygame`` is imported here only, and only when a window or a bitmap is wanted.
"""
