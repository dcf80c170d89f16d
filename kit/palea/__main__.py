"""`python -m palea`."""

from palea.cli.__main__ import main

main()
