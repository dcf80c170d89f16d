"""What an empty package shows: what the stage is for, an example, and a button that fills it from the demo."""

import ipywidgets as widgets

from palea import shipped, stamp
from palea.bench import entry
from palea.panels.panel import taught


class Teaching:
    """Part of a panel on an empty package. The panel has `package`, `guarded`, `say` and `_open`."""

    def teach(self, text):
        """Widgets that teach, for an empty package; none for any other."""
        if not text or not self.is_empty():
            return ()
        button = widgets.Button(description="Fill this empty package from the demo").add_class("palea-button")
        button.on_click(self.guarded(lambda _: self.fill()))
        return (widgets.HTML(taught(text)), *([] if self.package.read_only else [button]))

    def is_empty(self):
        """Whether no table of the package has a row."""
        return not any(len(self.package[name]) for name in self.package.names)

    def fill(self):
        """Put the invented demo into this empty package, to learn by."""
        from palea.tables.opening import open_package

        demo = open_package(shipped.folder("datapackages_demo") / "journey")
        by = stamp.now(self.who.value.strip() or None)
        self.package = entry.fill(self.package, demo, by, f"Invented rows of “{demo.title}”.")
        self.filled()
        self.say("saved", "The invented demo is in this package now. Take another folder for your own seed.")

    def filled(self):
        """Show the package that is no longer empty."""
        self.work.children = [w for w in self.work.children if w in (self.choices, self.form_place, self.lines_about, self.grid)]
        self._open()
