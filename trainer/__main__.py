"""``python -m trainer`` is ``namefirst``."""

import sys

from trainer.cli import main

sys.exit(main())
