"""Results as a person holds them: records that draw themselves, `plot` a panel and `figures` what commands write."""
