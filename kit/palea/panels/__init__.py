"""The panels: one a stage, each built by one call on a package and holding nothing that is not on disk.

>>> panel = palea.panels.germination(package, trial="G1")  # doctest: +SKIP
"""

from palea.figures import show_offline
from palea.panels.answer import answer
from palea.panels.cleaning import cleaning
from palea.panels.coating import coating, preparing
from palea.panels.germination import germination
from palea.panels.lots import lots

__all__ = ["answer", "cleaning", "coating", "germination", "lots", "preparing"]

show_offline()  # charts in the same notebook must draw without a network too
