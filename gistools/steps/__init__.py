"""The steps: what each reads, computes and writes, one declaration each."""
