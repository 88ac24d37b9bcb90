"""`python -m oilpath`: the command where its installed program is not found or cannot be started."""

from oilpath.cli import main

if __name__ == "__main__":
    main()
