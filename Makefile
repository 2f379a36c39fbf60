# Two commands do everything on a fresh machine with Python 3.11+ and make:
#   make demo   environment, install, then the main job on a demo case
#   make test   environment, all tests
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed
OUT := out

.PHONY: demo test bench check clean

$(STAMP): pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit("Python 3.11 or newer is needed, this is " + sys.version.split()[0] if sys.version_info < (3, 11) else 0)'
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --upgrade pip
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[phone,pdf,test]'
	touch $(STAMP)

demo: $(STAMP)
	@$(BIN)/diagnose demo --out $(OUT)

test: $(STAMP)
	$(BIN)/python -m pytest -n auto

check: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/diagnose knowledge check

# The peers are no part of the program: what cannot be installed here is left out and said so.
bench: $(STAMP)
	-@$(BIN)/python -m pip install --quiet --disable-pip-version-check 'librosa>=0.11'
	-@$(BIN)/python -m pip install --quiet --disable-pip-version-check 'aubio>=0.4.9'
	$(BIN)/python -m tests.bench

clean:
	rm -rf $(VENV) $(OUT) dist build .mypy_cache .ruff_cache .pytest_cache
