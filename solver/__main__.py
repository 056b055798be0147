"""`python -m solver` is the command `ringwright`."""

from solver.cli.app import main

if __name__ == "__main__":
    main()
