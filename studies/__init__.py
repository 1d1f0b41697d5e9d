"""Questions a designer asks, each answered by one command."""

import os

# Matrices here are small: threads of the linear-algebra library cost more than they give, and
# stall whenever another process has the other cores.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
