"""What is shown of a result: tree, chart, report, sheet, plain values."""
