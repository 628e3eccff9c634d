"""``python -m trainkit.cli`` is the command ``trainkit``."""

from __future__ import annotations

from trainkit.cli import main

if __name__ == "__main__":
    main()
