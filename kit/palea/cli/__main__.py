"""The `palea` command: every subcommand is one module, listed here in the order of work."""

from palea.cli import (
    adopt,
    analyse,
    changes,
    check,
    demo,
    dictionary,
    history,
    lab,
    methods,
    new,
    plan,
    recipes,
    rerun,
    share,
    status,
)
from palea.cli.app import app

COMMANDS = (demo, new, lab, plan, check, status, recipes, analyse, methods, share, rerun, history, changes, adopt, dictionary)


def main():
    """Run the command line."""
    app(prog_name="palea")


if __name__ == "__main__":
    main()
