"""Do something once a person has paused, and not at every letter."""

import asyncio


class Later:
    """An action that waits until it was not asked for during `seconds`; at once where no page is waiting for answers.

    A kernel answers a page from its event loop; a plain program has none, and there nothing is put off.
    """

    def __init__(self, action, seconds):
        self._action, self._seconds, self._waiting = action, seconds, None

    def soon(self):
        """Ask for it; an earlier wish that still waits is forgotten."""
        self.never_mind()
        try:
            self._waiting = asyncio.get_running_loop().call_later(self._seconds, self.now)
        except RuntimeError:
            self.now()

    def now(self):
        """Do it now."""
        self.never_mind()
        self._action()

    def never_mind(self):
        """Take the wish back."""
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None
