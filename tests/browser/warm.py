"""Kernels that begin with what every notebook loads first, so that they are soon there: JupyterLab starts this file in their place.

`python warm.py --serve SOCKET` loads the libraries that this project needs and its own modules, and waits.
`python warm.py SOCKET CONNECTION_FILE`, which JupyterLab takes for the kernel, has it fork a process that becomes the
kernel, and ends with it.
"""

import importlib
import json
import os
import random
import signal
import socket
import sys


def serve(place: str) -> None:
    """Load what is dear, then fork a kernel for each that asks."""
    with socket.socket(socket.AF_UNIX) as door:
        door.bind(place)
        door.listen()  # who asks before all is loaded waits
        for name in (
            "ipykernel.kernelapp", "ipywidgets", "matplotlib.backends.backend_agg", "matplotlib.figure", "pandas", "pint", "scipy.interpolate",
            "scipy.optimize", "tomlkit", "filelock",
        ):  # fmt: skip
            importlib.import_module(name)
        for name in dir(importlib.import_module("aquaplumb.whatif")):
            if name.islower():
                importlib.import_module(f"aquaplumb.whatif.{name}")
        importlib.import_module("pandas").set_option("display.max_columns", 20)  # as in a kernel; it takes this process for a terminal
        signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for a kernel here
        while True:
            asked, _ = door.accept()
            if os.fork() == 0:
                door.close()
                signal.signal(signal.SIGCHLD, signal.SIG_DFL)
                become(json.loads(asked.makefile().readline()))  # `asked` closes when the kernel ends
                os._exit(0)
            asked.close()


def become(told: dict) -> None:
    """Be the kernel that was asked for, where and with what it was asked."""
    from ipykernel import kernelapp

    os.chdir(told["folder"])
    os.environ.clear()
    os.environ.update(told["environment"] | {"JPY_PARENT_PID": str(os.getppid())})
    random.seed()
    sys.argv, sys.path[0] = ["ipykernel", "-f", told["connection"]], ""
    kernelapp.launch_new_instance()


def ask(place: str, connection: str) -> None:
    """Ask for a kernel and last as long as it."""
    with socket.socket(socket.AF_UNIX) as line:
        line.connect(place)
        told = {"folder": os.getcwd(), "environment": dict(os.environ), "connection": connection}
        line.sendall(json.dumps(told).encode() + b"\n")
        while line.recv(1):
            pass


if __name__ == "__main__":
    serve(sys.argv[2]) if sys.argv[1] == "--serve" else ask(*sys.argv[1:])
