PYTHON ?= python3
BIN := .venv/bin
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt
READY := .venv/.ready
TOOLS := .venv/.tools

.PHONY: help demo test test-all-tools check bench schema pictures clean

help:  ## what there is
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*## /\t/'

$(READY): pyproject.toml constraints.txt
	$(PYTHON) -m venv .venv
	$(PIP) -e .
	@touch $(READY)

$(TOOLS): $(READY)
	$(PIP) -e '.[dev]'
	@touch $(TOOLS)

demo: $(READY)  ## an invented case from end to end; its record lies in demo-record/
	$(BIN)/clockhour demo --to demo-record

test: $(TOOLS)  ## the tests that need Python alone
	$(BIN)/python -m pytest -m "not browser and not spark"

test-all-tools: $(TOOLS)  ## the tests that need a Chromium or Java on this machine
	$(BIN)/python -m pytest -m "browser or spark"

check: $(TOOLS)  ## lint, types, format
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(TOOLS)  ## speeds as ratios to floors of the same run; twenty minutes, 4 GB of temporary files
	PYTHONPATH=tests $(BIN)/python tests/bench
	PYTHONPATH=tests $(BIN)/python tests/bench/audit_journals.py
	PYTHONPATH=tests $(BIN)/python tests/bench/audit_scale.py
	PYTHONPATH=tests $(BIN)/python tests/bench/typist.py --against

torture: $(TOOLS)  ## kills, crashes, faults, fuzzing, with figures; about half an hour
	-$(PIP) atheris
	PYTHONPATH=tests:. $(BIN)/python tests/torture

schema: $(TOOLS)  ## write shared/protocol.schema.json anew from the models
	$(BIN)/python tests/write_schema.py

pictures: $(TOOLS)  ## draw the pictures of the guide anew
	$(BIN)/python tests/pictures.py

clean:  ## remove what make made
	rm -rf .venv demo-record .pytest_cache .mypy_cache .ruff_cache .hypothesis
