"""A pupil's server, started by the hub as that pupil: first the walk is copied to their folder, never over their changes."""

import os
import tempfile
from pathlib import Path

from jupyterhub.singleuser import main

from aquaplumb.units import DesignError
from aquaplumb.walk import copy_walk

os.umask(0o077)  # what is made here is for the pupil alone
try:
    print(*copy_walk(Path.home() / "my-aquaplumb"), flush=True)
except DesignError as wrong:
    print(f"{Path.home().name}: {wrong}", flush=True)  # a full disk, say: what they have opens all the same
# Kernels speak through files in a folder of the pupil's own: at a port, others on the machine could listen. Its name is
# short, as a socket's has to be.
with tempfile.TemporaryDirectory(prefix="hub-") as folder:
    os.environ["JUPYTER_RUNTIME_DIR"] = folder
    main()
