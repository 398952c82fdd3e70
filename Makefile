# make demo   make the environment, judge a sample photo
# make test   make the environment, run every check and test
# make bench  time and memory of one look;  make accuracy  the test set's tables;  make train

SHELL := /bin/sh
VENV := .venv
BIN := $(VENV)/bin
export PIP_DISABLE_PIP_VERSION_CHECK := 1

# The first Python of 3.11 or newer that runs and can make environments.
FIND := for p in $(PYTHON) python3.12 python3.13 python3.11 python3.14 python3; do \
  if $$p -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; \
  then echo $$p; break; fi; done

# Whether the machine has a display does not matter; two cores are enough.
DEMO_PHOTO ?= $(wildcard sample_images/demo/stray-strand-long.jpg)
DEMO_WIRE ?= 20 AWG
OUT ?= out

.PHONY: demo test lint bench accuracy train render clean

demo: $(VENV)/.make-run
	@test -n "$(DEMO_PHOTO)" || { echo "There is no photo in sample_images/demo."; exit 2; }
	@$(BIN)/inspector look "$(DEMO_PHOTO)" --wire "$(DEMO_WIRE)" --save $(OUT); \
	status=$$?; [ $$status -ne 2 ] || exit 2; \
	echo "The annotated picture is the .overlay.jpg named above."; \
	echo "Your own photo: $(BIN)/inspector look PHOTO --wire \"12 AWG\" --save $(OUT)"

test: $(VENV)/.make-dev
	@status=0; \
	$(BIN)/python -m pytest -n 2 --dist worksteal || status=1; \
	$(BIN)/ruff check . || status=1; \
	$(BIN)/mypy || status=1; \
	$(BIN)/lint-imports || status=1; \
	exit $$status

lint: $(VENV)/.make-dev
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(VENV)/.make-run
	$(BIN)/python -m tools.bench $(ARGS)

accuracy: $(VENV)/.make-studio
	$(BIN)/python -m tools.accuracy $(ARGS)

render: $(VENV)/.make-studio
	$(BIN)/python -m sample_images.studio --help

train: $(VENV)/.make-train
	$(BIN)/python -m inspector.regions.training $(ARGS)

clean:
	rm -rf $(VENV) $(OUT) build *.egg-info .pytest_cache .mypy_cache .ruff_cache .import_linter_cache

$(BIN)/python:
	@python=$$($(FIND)); \
	if [ -z "$$python" ]; then \
	  echo "Python 3.11 or newer with its venv module is needed (Debian: apt install python3-venv)."; \
	  exit 2; fi; \
	echo "Making $(VENV) with $$python"; $$python -m venv $(VENV)

$(VENV)/.make-run: $(BIN)/python pyproject.toml
	@echo "Installing; this takes a minute the first time"
	@$(BIN)/python -m pip install --quiet --editable .
	@touch $@

$(VENV)/.make-dev: $(BIN)/python pyproject.toml
	@echo "Installing with the tools for tests and the renderer; a minute or two the first time"
	@$(BIN)/python -m pip install --quiet --editable ".[dev,studio]"
	@touch $@ $(VENV)/.make-run $(VENV)/.make-studio

$(VENV)/.make-studio: $(VENV)/.make-dev
	@touch $@

$(VENV)/.make-train: $(BIN)/python pyproject.toml
	@$(BIN)/python -m pip install --quiet --editable ".[dev,studio,train]"
	@touch $@ $(VENV)/.make-run $(VENV)/.make-dev $(VENV)/.make-studio
