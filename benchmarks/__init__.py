"""What things take, beside the least they could take: see docs/benchmarks.md. No tests."""
