"""``python -m trainer``: the command line."""

from trainer.app import main

raise SystemExit(main())
