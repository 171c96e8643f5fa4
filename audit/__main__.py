"""`python -m audit` is the same program as the `stemaudit` command."""

from audit.cli.main import main

if __name__ == "__main__":
    main()
