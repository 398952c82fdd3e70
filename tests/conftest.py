"""Searched cases are the same in every run; `--hypothesis-profile=search` looks for new ones."""

from hypothesis import settings

settings.register_profile("settled", derandomize=True)
settings.register_profile("search", derandomize=False, print_blob=True)
settings.load_profile("settled")
