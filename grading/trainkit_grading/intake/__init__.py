"""Taking in what was handed in: reading it as data, deciding whose it is, keeping a receipt, laying it down."""
