"""Benchmarks: speed and quality as ratios within one run. They stand outside the tests, which only smoke-run them."""
