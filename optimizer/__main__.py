"""`python -m optimizer` is the command `darkfill`: the same commands, messages and exit codes."""

from optimizer.cli.start import main

if __name__ == "__main__":
    main()
