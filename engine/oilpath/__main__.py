"""`python -m oilpath`: the command by its module's name, where no script is on the PATH."""

from oilpath.cli import main

if __name__ == "__main__":
    main()
