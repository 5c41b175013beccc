"""Run the command line with `python -m shaftwright`."""

from shaftwright.cli.main import main

if __name__ == "__main__":
    main()
