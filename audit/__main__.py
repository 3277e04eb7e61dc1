"""Run the program: ``python -m audit`` is the same as ``nestproof``."""

import sys

from audit.cli import main

sys.exit(main())
