"""Write docs/published-checks.md from the rows in tests/published and what the tests do with them."""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "published"))

from published_table import page  # noqa: E402

if __name__ == "__main__":
    (ROOT / "docs" / "published-checks.md").write_text(page(), encoding="utf-8")
