"""`python -m inspector` is the same program as `inspector`."""

import sys

from inspector.cli import main

sys.exit(main())
