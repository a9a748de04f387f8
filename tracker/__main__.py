"""`python -m tracker` is `clockhour`."""

from tracker.cli import main

raise SystemExit(main())
