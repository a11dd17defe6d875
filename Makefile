# make demo and make test set everything up by themselves; the rest is for those who change it.

VENV := .venv
BIN := $(VENV)/bin
LOCK := $(VENV)/lock
DEMO_CLIP := sample_clips/leg-extension-faulty.mp4
SUPPORTED := import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))
PYTHON ?= $(shell for p in python3 python3.13 python3.12 python3.11; do \
	$$p -c "$(SUPPORTED)" >/dev/null 2>&1 && command -v $$p && break; done)
PYTEST = $(BIN)/python -m pytest -q -n auto --maxprocesses 4 --dist loadgroup
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check
UV := $(LOCK)/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	--no-header --no-annotate

.PHONY: help app demo demo-studio test test-long test-all test-page looks bench-page bench-speed faults pictures setup lint check-style schema lock bench stress sbom clean
.DELETE_ON_ERROR:

# make bench SHORT=1 takes 21 clips instead of 109; PART=tune measures the tuning part.
PART ?= validate
BENCH := sample_clips/bench
SCENARIOS = $(shell grep -lr --include='*.toml' $(if $(SHORT),'^short = true','^part = "$(PART)"') $(BENCH) | sort)

help:
	@echo "make demo         set up, check a sample clip, print its report"
	@echo "make app          set up, open the page on this machine"
	@echo "make demo-studio  set up, open the page on an invented studio (PORT=8600: there, as for make app)"
	@echo "make test         set up, run the tests of every day (some nine minutes on two cores)"
	@echo "make test-all     those and the long ones: every clip looked at live, faults at length"
	@echo "make test-page    set up, drive the page in Chromium from upload to release"
	@echo "make looks        look anew at the sample clips whose recorded look no longer fits"
	@echo "make faults       make each deliberate fault of tests/faults.toml: its tests must notice (FAULTS='--only 3 7')"
	@echo "make setup        only set up, with what developers need"
	@echo "make lint         style and types"
	@echo "make check-style  style only"
	@echo "make pictures     take the README's pictures anew, and every screen into result/screens (needs Chromium)"
	@echo "make schema       write docs/report-schema.json anew"
	@echo "make bench        render sets with exact truth, print the accuracy table (SHORT=1: 21 clips); fails on a missed target"
	@echo "make bench-speed  time ours against loops over every frame, memory, start-up (SPEED='--minutes 60')"
	@echo "make bench-page   time the pages and lists with 500 members and 20,000 sets"
	@echo "make stress       faults at length: odd clips, kill -9, break-ins, a soak (STRESS='--kills 50' for fewer)"
	@echo "make sbom         write result/sbom.json and docs/licences.md anew, check the packages fit together"
	@echo "make lock         pin the requirements anew"
	@echo "make clean        remove what was set up"

demo: $(VENV)/run.done
	$(BIN)/plumbset check $(DEMO_CLIP) --exercise leg-extension --out result/demo

app: $(VENV)/app.done
	$(BIN)/plumbset app $(if $(PORT),--port $(PORT))

demo-studio: $(VENV)/app.done
	$(BIN)/plumbset demo-studio $(if $(PORT),--port $(PORT))

test: $(VENV)/dev.done
	@requirements/postgresql
	$(PYTEST) -m "not long and not browser"

# What is left out of make test.
test-long: $(VENV)/dev.done
	@requirements/postgresql
	$(PYTEST) -m "long and not browser"

test-all: test test-long

test-page: $(VENV)/dev.done
	$(BIN)/python -m pytest -q -m browser tests/page

looks: $(VENV)/dev.done
	$(BIN)/python -m tests.samples

bench-page: $(VENV)/dev.done
	@requirements/postgresql
	$(BIN)/python -m tests.page.bench

faults: $(VENV)/dev.done
	$(BIN)/python -m tests.faults $(FAULTS)

pictures: $(VENV)/dev.done
	$(BIN)/python -m tests.page.pictures

bench-speed: $(VENV)/dev.done
	$(BIN)/python -m tests.speed $(SPEED)

setup: $(VENV)/dev.done

lint: check-style
	$(BIN)/mypy
	$(BIN)/mypy -p app

check-style: $(VENV)/dev.done
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

schema: $(VENV)/dev.done
	$(BIN)/python -m app.command.schema > docs/report-schema.json

lock: $(LOCK)/bin/uv
	$(UV) pyproject.toml requirements/build.in -o requirements/run.txt
	$(UV) --extra app --extra oidc --extra remote -c requirements/run.txt pyproject.toml requirements/build.in -o requirements/app.txt
	$(UV) --extra app --extra oidc --extra remote --extra cluster --extra dev -c requirements/app.txt pyproject.toml requirements/build.in -o requirements/dev.txt

bench: $(VENV)/dev.done $(VENV)/render.done
	$(VENV)/render/bin/python -m sample_clips.rendering $(SCENARIOS) --out $(BENCH)/rendered --jobs 2
	@mkdir -p result
	$(VENV)/render/bin/python -m sample_clips.rendering sample_clips/constant --out $(BENCH)/rendered/constant --jobs 2
	@status=0; $(BIN)/python -m tests.bench.constant > result/constant.md && cat result/constant.md; \
		$(BIN)/python -m tests.bench --part $(PART) $(if $(SHORT),--short) --by exercise \
		--tolerate tests/bench/known.toml --json result/bench.json > result/bench.md || status=$$?; \
		cat result/bench.md; exit $$status

stress: $(VENV)/dev.done
	$(BIN)/python -m tests.stress $(STRESS)

sbom: $(VENV)/app.done
	$(BIN)/python -m pip check
	@mkdir -p result
	@$(BIN)/python -m venv $(VENV)/sbom
	@$(VENV)/sbom/bin/python -m pip install --quiet --disable-pip-version-check "cyclonedx-bom>=7,<8"
	$(VENV)/sbom/bin/cyclonedx-py environment $(BIN)/python --pyproject pyproject.toml --output-reproducible \
		--of JSON -o result/sbom.json
	$(BIN)/python -m tests.licences result/sbom.json > docs/licences.md

clean:
	rm -rf $(VENV) result

$(BIN)/python:
	@test -n "$(PYTHON)" || { echo "Plumbset needs Python 3.11, 3.12 or 3.13; install one, or name it: make PYTHON=/path/to/python"; exit 1; }
	@requirements/system-libraries "$(PYTHON)"
	@$(PYTHON) -m venv $(VENV)

$(VENV)/run.done: requirements/run.txt pyproject.toml | $(BIN)/python
	@requirements/system-libraries
	@echo "Installing the pinned packages into $(VENV) (a few minutes the first time) ..."
	@$(PIP) --require-hashes -r requirements/run.txt
	@$(PIP) --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/app.done: requirements/app.txt pyproject.toml | $(BIN)/python
	@PAGE=1 requirements/system-libraries
	@echo "Installing the pinned packages into $(VENV) (a few minutes the first time) ..."
	@$(PIP) --require-hashes -r requirements/app.txt
	@$(PIP) --no-deps --no-build-isolation -e .
	@touch $@ $(VENV)/run.done

$(VENV)/dev.done: requirements/dev.txt pyproject.toml | $(BIN)/python
	@PAGE=1 requirements/system-libraries
	@echo "Installing the pinned packages into $(VENV) (a few minutes the first time) ..."
	@$(PIP) --require-hashes -r requirements/dev.txt
	@$(PIP) --no-deps --no-build-isolation -e .
	@touch $@ $(VENV)/app.done $(VENV)/run.done

$(VENV)/render.done: requirements/render.txt | $(BIN)/python
	@echo "Installing the renderer's packages into $(VENV)/render ..."
	@$(BIN)/python -m venv $(VENV)/render
	@$(VENV)/render/bin/python -m pip install --quiet --disable-pip-version-check -r requirements/render.txt
	@touch $@

$(LOCK)/bin/uv: | $(BIN)/python
	@$(BIN)/python -m venv $(LOCK)
	@$(LOCK)/bin/python -m pip install --quiet "uv>=0.5"
