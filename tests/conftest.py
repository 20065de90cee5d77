"""What holds for every test."""

from __future__ import annotations

from hypothesis import settings

# No test looks at a clock, hypothesis included: a busy machine is not a defect. The same examples every time,
# so that a change is judged by what it changes; look for new ones with `pytest --hypothesis-profile=search`.
settings.register_profile("house", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=1000)
settings.load_profile("house")
