# Two commands do it all: `make run` and `make test`.
PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip --disable-pip-version-check --quiet

.PHONY: run test check format bench walk clean

$(VENV)/.installed: pyproject.toml constraints.txt
	@echo "Setting up in $(VENV): about a minute, once."
	$(PYTHON) -m venv $(VENV)
	$(PIP) install -c constraints.txt -e .
	touch $@

$(VENV)/.installed-test: $(VENV)/.installed
	@echo "Installing what the tests need."
	$(PIP) install -c constraints.txt -e '.[test,check]'
	touch $@

## run: install what is missing and open the app on the demo library
run: $(VENV)/.installed
	$(BIN)/linewright serve --demo --open

# One worker more than there are cores, since the tests in the browser mostly wait.
WORKERS ?= $(shell expr $$(nproc) + 1)

## test: install what the tests need, the browser included, and run everything
test: $(VENV)/.installed-test
	./.ci/browser
	$(BIN)/python -m pytest -n $(WORKERS) --dist loadgroup --no-loadscope-reorder

## check: lint, format, types, import directions
check: $(VENV)/.installed-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

## format: put the code into the one format
format: $(VENV)/.installed-test
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

## bench: print every ratio, each beside its reference
bench: $(VENV)/.installed-test
	$(BIN)/python -m benchmarks

clean:
	rm -rf $(VENV) build dist
