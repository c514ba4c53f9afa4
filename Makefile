# One word per thing that people do. `make` alone lists them.
# The environment is .venv, made from the hashed requirements; nothing is installed elsewhere.

PYTHON ?= python3
PORT ?= 8000
HTTPS ?=
HOST ?= $(if $(filter 1,$(HTTPS)),0.0.0.0,127.0.0.1)
WORKERS ?= 2
# What test-engine leaves out; a new folder of tests runs there unless it is named here.
NOT_ENGINE := $(addprefix --ignore=tests/,domain documents forms static templates templatetags) \
	--ignore-glob='tests/test_*.py'
VENV := .venv
PY := $(VENV)/bin/python
MANAGE := $(PY) manage.py

SERVE := $(MANAGE) serve --host $(HOST) --port $(PORT) $(if $(filter 1,$(HTTPS)),--https)

.DEFAULT_GOAL := help
.PHONY: help setup setup-dev demo demo-full demo-servers run test test-long test-engine test-production pictures bench bench-plan lint lock

help: ## Show this list
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed 's/:.*## /\t/' | expand -t 20

setup: $(VENV)/.installed ## Make .venv with what labflow needs to run

$(VENV)/.installed: requirements.txt .ci/setup.sh
	@PYTHON="$(PYTHON)" .ci/setup.sh requirements.txt $@
	@echo "Compiling the planner; the first time takes a minute or two."
	@$(MANAGE) compile_planner

setup-dev: $(VENV)/.installed-dev ## The same with what the tests and the lint gate need

$(VENV)/.installed-dev: requirements-dev.txt .ci/setup.sh
	@PYTHON="$(PYTHON)" .ci/setup.sh requirements-dev.txt $@
	@echo "Compiling the planner; the first time takes a minute or two."
	@$(MANAGE) compile_planner
	@touch $(VENV)/.installed

demo: setup ## A lab with cases in work, on http://localhost:8000 (HTTPS=1 for tablets with a camera)
	@LABFLOW_DEMO=1 $(MANAGE) migrate --verbosity 0
	@LABFLOW_DEMO=1 $(MANAGE) demo
	@LABFLOW_DEMO=1 $(SERVE)

demo-full: setup ## The same with a year behind it: 400 finished cases
	@LABFLOW_DEMO=1 $(MANAGE) migrate --verbosity 0
	@LABFLOW_DEMO=1 $(MANAGE) demo --full
	@LABFLOW_DEMO=1 $(SERVE)

demo-servers: setup ## The same on PostgreSQL and Redis of its own, gone when it stops
	@HOST=$(HOST) PORT=$(PORT) .ci/with-servers.sh .ci/demo-servers.sh

run: setup ## Your own lab, empty at first
	@$(MANAGE) migrate --verbosity 0
	@$(SERVE)

test: setup-dev ## The whole suite on SQLite, browser tests included
	@.ci/browser.sh
	@$(MANAGE) compile_planner
	@$(PY) -m pytest -n $(WORKERS) -m "not long and not pictures"

test-production: setup-dev ## The whole suite on PostgreSQL and Redis, with its own servers
	@.ci/browser.sh
	@$(MANAGE) compile_planner
	@.ci/with-servers.sh $(PY) -m pytest -n $(WORKERS) -m "not long and not pictures"

test-engine: setup-dev ## What can be otherwise there: what stores and asks, without the browser
	@$(MANAGE) compile_planner
	@LABFLOW_MACHINE_RUNS=$${LABFLOW_MACHINE_RUNS:-40} .ci/with-servers.sh $(PY) -m pytest -n $(WORKERS) \
		-m "not long and not pictures and not browser" $(NOT_ENGINE)

pictures: setup-dev ## Photograph every page in four states and three sizes; axe must find nothing
	@.ci/browser.sh
	@$(PY) -m pytest -n $(WORKERS) --dist loadfile -p no:randomly -m pictures tests/pictures

test-long: setup-dev ## The tests that take minutes
	@$(PY) -m pytest -m long

bench: setup-dev ## How quick the pages are, on SQLite and on PostgreSQL; takes minutes, proves nothing
	@$(PY) benchmarks/reckoning.py
	@$(PY) benchmarks/arches.py
	@$(PY) benchmarks/cure.py
	@.ci/with-servers.sh $(PY) benchmarks/cure.py
	@$(PY) benchmarks/planner.py
	@$(PY) benchmarks/pages.py
	@.ci/with-servers.sh $(PY) benchmarks/pages.py

bench-plan: setup-dev ## How late plans of invented labs are, and how near the optimum classic job shops come
	@$(PY) benchmarks/plans.py $(PLANS)
	@$(PY) benchmarks/small_labs.py $(SMALL)
	@$(PY) benchmarks/jobshops.py

lint: setup-dev ## Style, types, templates, layers, migrations, production settings
	@.ci/lint.sh

lock: setup-dev ## Lock the requirements again after an edit of a .in file (needs uv)
	uv pip compile --generate-hashes --universal --python-version 3.11 requirements.in -o requirements.txt
	uv pip compile --generate-hashes --universal --python-version 3.11 -c requirements.txt requirements-dev.in -o requirements-dev.txt
