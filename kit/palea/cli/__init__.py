"""The command line: one file a command. Only typer is imported at the top of each; the rest waits until asked for."""
