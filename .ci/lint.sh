#!/usr/bin/env bash
# Every check that needs no running lab. Runs all of them, then says which ones failed.
set -uo pipefail
cd "$(dirname "$0")/.."
bin=.venv/bin
failed=()

check() {
  local name=$1
  shift
  echo "── $name"
  "$@" || failed+=("$name")
}

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
export LABFLOW_VAR=$scratch

production() {
  LABFLOW_PRODUCTION=1 \
    LABFLOW_SECRET_KEY=$($bin/python -c 'import secrets; print(secrets.token_urlsafe(64))') \
    LABFLOW_HOSTS=lab.example \
    LABFLOW_DATABASE=postgresql://labflow@127.0.0.1/labflow \
    LABFLOW_REDIS=redis://127.0.0.1:6379/0 \
    "$@"
}

check "ruff check" $bin/ruff check .
check "ruff format" $bin/ruff format --check .
check "mypy" $bin/mypy
check "djlint lint" $bin/djlint templates --lint --quiet
check "layers" $bin/lint-imports
check "migrations" $bin/python manage.py makemigrations --check --dry-run
check "production settings" production $bin/python manage.py check --deploy --fail-level WARNING

if [ ${#failed[@]} -gt 0 ]; then
  printf 'Not clean: %s\n' "${failed[*]}" >&2
  exit 1
fi
echo "Clean."
