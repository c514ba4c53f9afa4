#!/usr/bin/env bash
# Looks for a Chromium for the browser tests and fetches one where there is none. Never fails:
# without a browser those tests are skipped, and say why.
set -uo pipefail
cd "$(dirname "$0")/.."
for name in chromium chromium-browser google-chrome; do
  command -v "$name" >/dev/null 2>&1 && exit 0
done
[ -z "${LABFLOW_CHROMIUM:-}" ] || exit 0
.venv/bin/python -c '
from pathlib import Path
from playwright.sync_api import sync_playwright
with sync_playwright() as p:
    raise SystemExit(not Path(p.chromium.executable_path).exists())
' 2>/dev/null && exit 0
echo "There is no Chromium here; fetching one for the browser tests."
timeout 180 .venv/bin/python -m playwright install chromium >/dev/null 2>&1 ||
  echo "None could be fetched: the browser tests will be skipped (Debian: apt-get install chromium)."
exit 0
