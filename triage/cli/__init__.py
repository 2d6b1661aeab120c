"""The command line. Each command's body is a small module, imported only when it is run."""

import os

# The planner's products are small. Shared among threads they gain nothing, and where another
# program holds a core each product waits for it: the next step then took ten times as long. Set
# here, before anything of this room loads NumPy; what the user has set stays.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
