"""Make the look tests' own modules importable: the run imports tests without a package."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
