#!/usr/bin/env bash
# The demonstration lab on the PostgreSQL and Redis that the environment names.
set -euo pipefail
cd "$(dirname "$0")/.."
export LABFLOW_DEMO=1
export LABFLOW_VAR=${LABFLOW_VAR:-$PWD/var/demo-servers}
.venv/bin/python manage.py migrate --verbosity 0
.venv/bin/python manage.py demo
.venv/bin/python manage.py serve --host "${HOST:-127.0.0.1}" --port "${PORT:-8000}"
