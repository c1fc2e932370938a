"""A hub for a school: each pupil a JupyterLab of their own with the walk in it, opened at page 00.

    sudo .venv/bin/python -m jupyterhub -f .hub/jupyterhub_config.py

`notebooks/teachers.md` says how to set it up. What the hub keeps is in the folder `my-hub`, where it is started. It listens
to its own machine only, until `--url` says otherwise; what is given behind the command goes before what stands here.

JupyterLab lets a pupil run any program, so nothing but the system itself keeps pupils apart: each has an account of the
machine, in the group `pupils`, and the hub starts their server as them, which is why it needs sudo. With
AQUAPLUMB_HUB_TRY=PASSWORD it asks for neither: any name comes in with that password, and all servers run as whoever
started the hub. That is for a look at it, and for `tests/test_hub.py`; never for pupils.
"""

import os
import sys
from pathlib import Path

c = get_config()  # noqa: F821

HERE, KEPT = Path(__file__).resolve().parent, Path("my-hub").resolve()
IDLE = 3600  # s after which a server that nobody uses is ended; the pupil's folder stays
STARTS = 300  # s that a server has to start: thirty pupils ask for theirs at once

KEPT.mkdir(mode=0o700, exist_ok=True)
c.JupyterHub.bind_url = "http://127.0.0.1:8000"
c.JupyterHub.db_url = f"sqlite:///{KEPT / 'jupyterhub.sqlite'}"
c.JupyterHub.cookie_secret_file = str(KEPT / "cookie_secret")  # so who is logged in stays so when the hub starts again
c.ConfigurableHTTPProxy.pid_file = str(KEPT / "proxy.pid")

if password := os.environ.get("AQUAPLUMB_HUB_TRY"):
    c.JupyterHub.authenticator_class = "shared-password"
    c.SharedPasswordAuthenticator.user_password = password
    c.Authenticator.allow_all = True
    c.JupyterHub.spawner_class = "simple"
    c.SimpleLocalProcessSpawner.home_dir_template = str(KEPT / "pupils" / "{username}")
else:
    c.JupyterHub.authenticator_class = "pam"
    c.LocalAuthenticator.allowed_groups = {"pupils"}
    c.JupyterHub.spawner_class = "jupyterhub.spawner.LocalProcessSpawner"

c.Spawner.cmd = [sys.executable, str(HERE / "pupil.py")]
c.Spawner.args = ["--KernelManager.transport=ipc", "--LanguageServerManager.autodetect=False"]  # which asks npm, at each start
c.Spawner.notebook_dir = "~/my-aquaplumb"
c.Spawner.default_url = "/doc/tree/00-start-here.ipynb"
c.Spawner.env_keep = ["LANG", "LC_ALL", "PATH", "PYTHONPATH"]
c.Spawner.environment = {"JUPYTER_CONFIG_PATH": str(HERE), "OPENBLAS_NUM_THREADS": "1"}  # no news over a page; cores are shared
c.Spawner.start_timeout = c.Spawner.http_timeout = STARTS
if password and os.geteuid() == 0:
    c.Spawner.args.append("--allow-root")  # in a container there is no other user

c.JupyterHub.services = [{"name": "idle", "command": [sys.executable, "-m", "jupyterhub_idle_culler", f"--timeout={IDLE}"]}]
c.JupyterHub.load_roles = [
    {"name": "idle", "services": ["idle"], "scopes": ["list:users", "read:users:activity", "read:servers", "delete:servers"]}
]
