"""Runs the demo: `python -m demo`, as scripts/demo does."""

import signal
import sys

# Until the demo handles signals itself there is nothing to clean up.
signal.signal(signal.SIGINT, signal.SIG_DFL)

from .session import main  # noqa: E402

sys.exit(main())
