"""Run the command line by ``python -m fillwork``."""

from fillwork.cli.main import main

if __name__ == "__main__":
    main()
