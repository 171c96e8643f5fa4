"""How long things take on this machine: `python -m tests.benchmarks`. Not run by CI, as machines differ."""
