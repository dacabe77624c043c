"""What Barespot costs beside a floor or a peer, as ratios: `make bench`, or `python -m tests.benchmarks NAME ...`."""
