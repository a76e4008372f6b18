PYTHON ?= python3
.PHONY: demo test bench lint
demo test bench lint: ; $(PYTHON) run.py $@
