"""Let ``python -m scanner`` do what ``bothfaces`` does."""

from scanner.cli import main

if __name__ == "__main__":
    main()
