"""Run the command line as ``python -m forecaster``."""

from __future__ import annotations

from forecaster.cli import main

if __name__ == "__main__":
    main()
