"""What a learner does first counts first: a number typed and Keep pressed at once reach the widgets in this order, on the kernel that is installed."""

import json
import time

from jupyter_client.manager import start_new_kernel

CELL = """
import json
import ipywidgets
box, button, seen = ipywidgets.Text(), ipywidgets.Button(), []

def pressed(_):
    seen.append(box.value)
    button.tooltip = box.value  # the button tells the page something, the box does not

button.on_click(pressed)
print(json.dumps([box.comm.comm_id, button.comm.comm_id]))
"""


def said(client, code):
    """What a cell prints."""
    told = []
    client.execute_interactive(code, timeout=120, output_hook=lambda m: told.append(m["content"].get("text", "")))
    return json.loads("".join(told))


def test_what_is_typed_comes_before_the_press():
    manager, client = start_new_kernel(kernel_name="python3")
    try:
        box, button = said(client, CELL)
        subshell = None
        client.kernel_info()
        if "kernel subshells" in client.get_shell_msg(timeout=60)["content"].get("supported_features", []):  # JupyterLab asks for one
            client.control_channel.send(client.session.msg("create_subshell_request", {}))
            subshell = client.get_control_msg(timeout=60)["content"]["subshell_id"]

        def send(comm, data):
            message = client.session.msg("comm_msg", {"comm_id": comm, "data": data})
            message["header"]["subshell_id"] = subshell
            client.shell_channel.send(message)

        send(button, {"method": "custom", "content": {"event": "click"}})
        client.execute("import time; time.sleep(2)")  # a kernel that is busy elsewhere
        time.sleep(0.5)
        send(box, {"method": "update", "state": {"value": "12"}, "buffer_paths": []})
        send(button, {"method": "custom", "content": {"event": "click"}})
        until = time.monotonic() + 60
        while len(seen := said(client, "print(json.dumps(seen))")) < 2 and time.monotonic() < until:
            time.sleep(0.1)
        assert seen == ["", "12"]
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)
