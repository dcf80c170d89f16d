"""Earlier versions of calculations, so that an answer that was kept can be had again as it was.

Each module holds what has been calculated otherwise since, and no more; the rest is the present code. Its docstrings say
what was changed and why the later is better. The tests hold the numbers of every version that is listed here.
"""
