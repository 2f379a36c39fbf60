"""What `make bench` runs: figures beside a baseline, printed in one run."""
