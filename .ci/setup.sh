#!/usr/bin/env bash
# Makes .venv from a hashed requirements file. Usage: setup.sh REQUIREMENTS MARKER
# Says in plain words what is missing on this machine.
set -euo pipefail
cd "$(dirname "$0")/.."
requirements=$1
marker=$2
python=${PYTHON:-python3}

stop() { printf '%s\n' "$@" >&2; exit 1; }

command -v "$python" >/dev/null 2>&1 || stop \
  "There is no $python on this machine." \
  "Install Python 3.11 or newer (Debian: apt-get install python3 python3-venv), or name yours: make setup PYTHON=/path/to/python"

if [ ! -x .venv/bin/python ]; then
  "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || stop \
    "$python is $("$python" --version 2>&1), but labflow needs Python 3.11 or newer." \
    "Install a newer one and name it: make setup PYTHON=python3.12"
  "$python" -c 'import ensurepip, venv' >/dev/null 2>&1 || stop \
    "This Python cannot make environments: the module ensurepip is missing." \
    "Install it (Debian and Ubuntu: apt-get install python3-venv), then try again."
  echo "Making .venv with $("$python" --version 2>&1)."
  "$python" -m venv .venv
fi

echo "Installing what $requirements names; the first time takes a minute or two."
if ! .venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes -r "$requirements"; then
  stop "" \
    "The packages could not be installed; pip's reason is above." \
    "Without a network? Connect once: later starts need none." \
    "A hash that does not match? The file changed on its way: do not install it by hand."
fi
touch "$marker"
