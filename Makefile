# Pacewright's house work. `make demo` and `make test` need a Debian machine with Python 3.11 and make, and root
# (or sudo) the first time if a Debian package is missing. Everything else goes into .venv, from the locks.

SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:

PYTHON ?= $(shell command -v python3.11 || command -v python3)
WORKERS ?= 2
BIN := .venv/bin
SUDO := $(shell [ "$$(id -u)" = 0 ] || echo sudo)

# The stamps are named by what they stand for: other locks, another project file, another interpreter or another
# folder give another name, and the packages are installed anew. Nothing else is looked at, so a second run is quick.
fingerprint = $(shell { cat $(1) pyproject.toml; readlink -f $(PYTHON); pwd; } | sha256sum | cut -c1-16)
RUNTIME := .venv/runtime-$(call fingerprint,requirements.lock).stamp
DEV := .venv/dev-$(call fingerprint,requirements-dev.lock).stamp

# One thread each for the numerics: the tests run on several processes, and small arrays gain nothing from more.
single := OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 NUMBA_NUM_THREADS=1

# Run every module of a folder that can be run.
run_all = @for path in $$(grep -l '__main__' $(1)/*.py); do \
	module=$(1).$$(basename "$$path" .py); echo "==> $$module"; $(single) $(BIN)/python -m "$$module"; done

.PHONY: help demo test serve check format browser validation benchmarks docs lock clean

help: ## Say what there is to make
	@grep -E '^[a-z]+:.*## ' Makefile | sed -E 's/^([a-z]+):.*## (.*)/  make \1|\2/' | column -t -s '|'

demo: $(RUNTIME) ## Run the whole job on made-up players and on real recordings, into demo-out/
	$(BIN)/pacewright demo --out demo-out

# The page offers the invented club while the desk is empty; `make serve ARGS=--demo` has it made at once.
serve: ARGS ?=
serve: $(RUNTIME) ## Open the coach's desk in the browser, at http://127.0.0.1:8780
	$(BIN)/pacewright serve $(ARGS)

test: check browser ## Run every check and every test
	@echo "==> Tests, on $(WORKERS) processes"
	$(single) $(BIN)/pytest -n $(WORKERS) --dist loadscope --durations 15

check: $(DEV) ## Style, format, types, layers, spelling
	@echo "==> Style, format, types, layers, spelling"
	$(BIN)/ruff check --quiet
	$(BIN)/ruff format --quiet --check
	$(BIN)/mypy --no-error-summary
	$(BIN)/lint-imports --no-cache
	$(BIN)/codespell

format: $(DEV) ## Write the house style into the sources
	$(BIN)/ruff check --quiet --fix
	$(BIN)/ruff format

validation: $(DEV) ## Rewrite the tables of accuracy against published values and known truth (minutes)
	$(call run_all,validation)

benchmarks: $(DEV) ## Print the ratios of speed
	$(call run_all,benchmarks)

docs: $(DEV) ## Rewrite the pages of docs/ that are made from the code
	$(BIN)/python -m docs.generate

# Pins stay as they are unless UPGRADE=--upgrade is given. The locks hold versions and the hashes of every platform's
# files, and no address: where packages come from is the business of the machine that installs them.
lock: UPGRADE ?=
lock: COMPILE = $(BIN)/uv pip compile --quiet --no-config --universal --python-version 3.11 --generate-hashes \
	--strip-extras --no-header --no-annotate $(UPGRADE) pyproject.toml
lock: $(DEV) ## Rewrite the locks from pyproject.toml
	$(COMPILE) --group build --output-file requirements.lock
	$(COMPILE) --group dev --constraint requirements.lock --output-file requirements-dev.lock

clean: ## Remove what was made, and .venv
	rm -rf .venv build dist demo-out out src/*.egg-info .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
	find src tests validation benchmarks docs -name __pycache__ -type d -prune -exec rm -rf {} +

# --- the environment ---------------------------------------------------------------------------------------------

install = $(BIN)/pip install --disable-pip-version-check --require-hashes --requirement $(1) && \
	$(BIN)/pip install --disable-pip-version-check --quiet --no-deps --no-build-isolation --editable .

$(RUNTIME): | .venv/pyvenv.cfg
	@echo "==> Installing Pacewright and what it needs (the first time only)"
	$(call install,requirements.lock)
	@rm -f .venv/runtime-*.stamp && touch $@

# The development lock holds everything of the other one: after `make test`, `make demo` has nothing to install.
$(DEV): | .venv/pyvenv.cfg
	@echo "==> Installing Pacewright and the tools of development (the first time only)"
	$(call install,requirements-dev.lock)
	@rm -f .venv/dev-*.stamp .venv/runtime-*.stamp && touch $@ $(RUNTIME)

.venv/pyvenv.cfg:
	@echo "==> Making .venv with $(PYTHON)"
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { $(SUDO) apt-get update -qq; \
		$(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -qq -y --no-install-recommends python3-venv; }
	$(PYTHON) -m venv .venv

browser:
	@command -v chromium >/dev/null || { echo "==> Installing Chromium for the browser tests"; \
		$(SUDO) apt-get update -qq; $(SUDO) env DEBIAN_FRONTEND=noninteractive \
		apt-get install -qq -y --no-install-recommends chromium fonts-dejavu-core fonts-liberation; }
