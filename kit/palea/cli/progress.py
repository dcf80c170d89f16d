"""How far a command has come: a bar on a terminal, plain sentences elsewhere."""

from palea.cli.app import is_terminal, note


class Bar:
    """In a `with`, called with a sentence before each step; for an answer also with its number and how many there are.

    stages : steps besides the answers. How many answers there are is often known only on the way, and the bar is told then.
    """

    def __init__(self, stages=0):
        self._stages, self._begun, self._bar = stages, 0, None

    def __enter__(self):
        if is_terminal():
            from rich.console import Console
            from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

            columns = (BarColumn(bar_width=16), TimeElapsedColumn(), TextColumn("{task.description}"))
            self._bar = Progress(*columns, console=Console(stderr=True))
            self._task = self._bar.add_task("", total=self._stages or 1)
            self._bar.start()
        return self

    def __call__(self, sentence, *of):
        """Say what is done now. of : the number of an answer, from 1 on, and how many are known of."""
        if self._bar is None:
            note(sentence)
            return
        total = {"total": self._stages + of[1]} if of else {}
        self._bar.update(self._task, completed=self._begun, description=sentence, **total)  # what is begun is not done
        self._begun += 1

    def __exit__(self, fault, *_):
        if self._bar is not None:
            if fault is None:
                self._bar.update(self._task, total=1, completed=1, description="Done")
            self._bar.stop()
