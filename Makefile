# Every target does its own set-up. PYTHON=python3.12 make test uses that interpreter, in a folder of its own.
# The set-up itself is scripts/setup.sh; it says what a machine lacks, and the command that brings it.

.DEFAULT_GOAL := help
# An empty PATH: the usual one.
export PATH := $(or $(PATH),/usr/local/bin:/usr/bin:/bin)

ifdef PYTHON
VENV ?= .venv-$(shell $(PYTHON) -c 'import sys; print("%d.%d" % sys.version_info[:2])' 2>/dev/null)
else
VENV ?= .venv
endif
BIN := $(VENV)/bin
SETUP := VENV='$(VENV)' PYTHON='$(PYTHON)' scripts/setup.sh
# pytest's own options: make test PYTEST='-k judging'
PYTEST ?=

# An environment whose Python is gone, or that was made for a checkout elsewhere, is made anew.
ifneq ($(shell $(BIN)/python -c 'import sys; print(open(sys.argv[1]).read().strip())' $(VENV)/.oilpath-checkout 2>/dev/null),$(CURDIR))
STALE := stale
endif

.PHONY: help
help: ## show this list
	@sed -n 's/^\([a-z-]*\):.*## \(.*\)/  make \1\t\2/p' Makefile | expand -t 20

.PHONY: demo
demo: $(VENV)/.set-up-run ## set up, then show the whole answer for a demo machine
	@$(BIN)/python -m oilpath demo

.PHONY: page
page: $(VENV)/.set-up-page ## set up, then open the pages of a workshop with demo machines in the browser
	@$(BIN)/python -m oilpath serve --demo

.PHONY: test
test: $(VENV)/.set-up-test ## set up, then check style and types and run all tests
	@$(MAKE) --no-print-directory lint
	@$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder $(PYTEST)

.PHONY: test-peers
test-peers: $(VENV)/.set-up-peers ## compare with other people's libraries (some 500 MB to download)
	@$(BIN)/python -m pytest -m peer $(PYTEST)

.PHONY: test-lowest
test-lowest: ## diagnose with the oldest libraries that pyproject.toml allows; a warning is an error
	@$(MAKE) --no-print-directory VENV='$(VENV)-lowest' run-lowest

.PHONY: run-lowest
run-lowest: $(VENV)/.set-up-lowest
	@for command in 'diagnose cases/demo/*.yaml cases/sound/*.yaml' 'order cases/demo/pump-1-slow.yaml' 'why cases/demo/pump-1-slow.yaml pump.worn'; do \
	    echo "oilpath $$command"; $(BIN)/python -W error -m oilpath $$command >/dev/null || exit; \
	done

.PHONY: lint
lint: $(VENV)/.set-up-test ## check style and types
	@$(BIN)/python -m ruff check --quiet
	@$(BIN)/python -m ruff format --check --quiet || { echo 'ruff format would change files: make format'; exit 1; }
	@$(BIN)/python -m mypy --no-error-summary

.PHONY: format
format: $(VENV)/.set-up-test ## put the code into the project's style
	@$(BIN)/python -m ruff check --quiet --fix-only
	@$(BIN)/python -m ruff format

.PHONY: bench
bench: $(VENV)/.set-up-peers ## measure speed, ours and the libraries' in one run (some 500 MB to download)
	@$(BIN)/python -m pytest benchmarks --benchmark-columns=min,median,max,rounds $(PYTEST)

.PHONY: lock
lock: ## pin the newest versions that pyproject.toml allows (KEEP=1: only what it newly asks for)
	@$(SETUP) lock

.PHONY: pages
pages: $(VENV)/.set-up-test ## write anew what the program makes for the documents: blocks, pictures
	@$(BIN)/python scripts/make_pictures.py

.PHONY: clean
clean: ## remove the environments and all that tools left
	rm -rf .venv .venv-* dist build .pytest_cache .mypy_cache .ruff_cache .hypothesis .benchmarks
	find engine tests benchmarks -name __pycache__ -type d -prune -exec rm -rf {} +

.PHONY: stale
stale:

$(VENV)/.set-up-%: pyproject.toml scripts/setup.sh locks/build.txt locks/%.txt $(STALE)
	@$(SETUP) $*
	@touch $@ $(VENV)/.set-up-run $(if $(filter peers,$*),$(VENV)/.set-up-test)
