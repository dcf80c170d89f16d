"""The `palea` command: every subcommand is one module, listed here in the order of work."""

from palea.cli import (
    adopt,
    analyse,
    answer,
    attach,
    bag_page,
    changes,
    check,
    day,
    demo,
    dictionary,
    export,
    history,
    lab,
    labels,
    letter,
    methods,
    my_batch,
    new,
    plan,
    pool,
    protocol,
    recipes,
    rerun,
    share,
    sheet,
    status,
    take_in,
    upgrade,
    walk,
    what_if,
)
from palea.cli.app import app

COMMANDS = (
    demo, new, lab, plan, answer, protocol, sheet, labels, take_in, attach, check, status, day, walk, recipes, analyse, what_if,
    pool, methods, letter, bag_page, my_batch, share, export, rerun, history, changes, adopt, upgrade, dictionary,
)  # fmt: skip


def main():
    """Run the command line."""
    app(prog_name="palea")


if __name__ == "__main__":
    main()
