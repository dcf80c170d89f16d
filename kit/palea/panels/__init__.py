"""The panels: one a stage, each built by one call on a package and holding nothing that is not on disk.

>>> panel = palea.panels.germination(package, trial="G1")  # doctest: +SKIP
"""

from palea.figures import show_offline
from palea.panels.answer import answer
from palea.panels.bench import bench
from palea.panels.cleaning import cleaning
from palea.panels.coating import coating, preparing
from palea.panels.decision import decision, prices
from palea.panels.field import field, growing
from palea.panels.germination import germination
from palea.panels.handling import handling
from palea.panels.layout import layout
from palea.panels.lots import lots
from palea.panels.out import out
from palea.panels.outsourced import outsourced
from palea.panels.overview import overview
from palea.panels.planning import planning
from palea.panels.record import record
from palea.panels.rerun import rerun
from palea.panels.start import start
from palea.panels.take_in import take_in

__all__ = [
    "answer", "bench", "cleaning", "coating", "decision", "field", "germination", "growing", "handling", "layout",
    "lots", "out", "outsourced", "overview", "planning", "preparing", "prices", "record", "rerun", "start", "take_in",
]  # fmt: skip

show_offline()  # charts in the same notebook must draw without a network too
