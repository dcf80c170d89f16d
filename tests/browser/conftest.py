"""JupyterLab in headless Chromium: a server that reads nobody's settings, a page that may not leave this machine."""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path

import pytest

import palea

CHROMIUM = os.environ.get("PALEA_CHROMIUM", "/usr/bin/chromium")
BROWSER_FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]
LAB_FLAGS = [
    "--no-browser", "--allow-root", "--ServerApp.ip=127.0.0.1", "--ServerApp.port_retries=0",
    "--IdentityProvider.token=", "--LabApp.expose_app_in_browser=True",
    "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
]
QUIET = {"disabledExtensions": {
    "@jupyterlab/apputils-extension:announcements": True,  # no news, no question about news
    "@jupyterlab/extensionmanager-extension:plugin": True,  # no list from the package index
}}
OWN_FOLDERS = (
    "JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "JUPYTERLAB_SETTINGS_DIR",
    "JUPYTERLAB_WORKSPACES_DIR",
)
PATIENCE_MS = 120_000  # a whole notebook, on a machine that may be busy with other tests
PANEL = "const pause = () => new Promise(r => setTimeout(r, 20)), panel = () => jupyterapp.shell.currentWidget;"
# Without waiting for the session a "Select Kernel" dialog appears, because the page looks idle before it has one.
RUN_ALL = f"""async () => {{ {PANEL}
  await jupyterapp.restored;
  while (!panel()?.sessionContext) await pause();
  await panel().context.ready; await panel().sessionContext.ready;
  const ok = await jupyterapp.commands.execute('notebook:run-all-cells');
  while (panel().sessionContext.session.kernel.status !== 'idle') await pause();
  const outputs = panel().content.model.sharedModel.cells.flatMap(c => c.outputs ?? []);
  const failed = outputs.find(o => o.output_type === 'error');
  return ok || `${{failed?.ename}}: ${{failed?.evalue}}`; }}"""
RESTART = f"""async () => {{ {PANEL}
  await panel().sessionContext.restartKernel();
  while (panel().sessionContext.session.kernel.status !== 'idle') await pause();
  return await jupyterapp.commands.execute('notebook:run-all-cells'); }}"""
THEME = "name => jupyterapp.commands.execute('apputils:change-theme', {theme: name})"


@contextmanager
def running_lab(home):
    """(url, folder) of a JupyterLab that keeps all its settings in `home`."""
    root = home / "work"
    page_config = home / "jupyter_config_dir" / "labconfig" / "page_config.json"
    root.mkdir()
    page_config.parent.mkdir(parents=True)
    page_config.write_text(json.dumps(QUIET))
    own = {v: str(home / v.lower()) for v in OWN_FOLDERS}
    own["PYTHONPATH"] = str(Path(palea.__file__).parents[1])  # kernels run the palea that is tested, from wherever
    port, log = _free_port(), home / "server.log"
    where = [f"--ServerApp.port={port}", f"--ServerApp.root_dir={root}"]
    command = [sys.executable, "-m", "jupyterlab", *LAB_FLAGS, *where]
    with log.open("wb") as sink:
        server = subprocess.Popen(command, env=os.environ | own, stdout=sink, stderr=subprocess.STDOUT)
    try:
        _wait_for(f"http://127.0.0.1:{port}", log)
        yield f"http://127.0.0.1:{port}", root
    finally:
        server.terminate()
        server.wait(20)


@contextmanager
def running_browser(path=CHROMIUM):
    """A headless Chromium."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as p:
        found = p.chromium.launch(executable_path=path, args=BROWSER_FLAGS)
        yield found
        found.close()


@contextmanager
def local_page(browser):
    """A page on which any request that leaves this machine is refused, and an AssertionError at the end."""
    context = browser.new_context(viewport={"width": 1280, "height": 1400})
    outside = []

    def refuse(route):
        outside.append(route.request.url)
        route.abort()

    context.route(lambda url: not url.startswith(("http://127.0.0.1", "data:", "blob:")), refuse)
    page = context.new_page()
    page.set_default_timeout(30_000)
    yield page
    context.close()
    assert not outside, outside


def open_and_run(page, url, folder, name):
    """Open one notebook alone in the window and run all its cells -> True, or what the first failing cell said."""
    page.goto(f"{url}/doc/tree/{folder}/{name}?reset")
    page.wait_for_function("window.jupyterapp")
    late = f"new Promise(r => setTimeout(() => r('timed out'), {PATIENCE_MS}))"
    return page.evaluate(f"Promise.race([({RUN_ALL})(), {late}])")


def _free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def _wait_for(url, log):
    for _ in range(600):
        try:
            urllib.request.urlopen(url + "/api/status", timeout=1)
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise RuntimeError(log.read_text())


@pytest.fixture(scope="session")
def lab(chromium, tmp_path_factory):
    """(url, folder) of the JupyterLab of this session."""
    with running_lab(tmp_path_factory.mktemp("lab")) as found:
        yield found


@pytest.fixture
def page(browser):
    """A page that may not leave this machine."""
    with local_page(browser) as found:
        yield found


@pytest.fixture
def run_notebook(lab, page, request):
    """A function (notebook, package=None) that runs a copy of the notebook in a folder of this test.

    package : folder of a package to lie where the notebook looks for its own. Returns page, folder of that package, and
    True or what the first failing cell said.
    """
    url, root = lab

    def run(path, package=None):
        folder = root / request.node.name.translate({ord(c): "-" for c in "[]:/"})
        folder.mkdir()
        shutil.copy(path, folder)
        if package:
            shutil.copytree(package, folder / "palea-demo")
        return page, folder / "palea-demo", open_and_run(page, url, folder.name, path.name)

    return run


@pytest.fixture
def restart(page):
    """A function that restarts the kernel of the open notebook and runs all its cells."""
    return lambda: page.evaluate(RESTART)


@pytest.fixture
def theme(page):
    """A function that changes JupyterLab's theme and waits until it is there."""

    def change(name):
        page.evaluate(THEME, name)
        page.wait_for_function(f"document.body.dataset.jpThemeName === '{name}'")

    return change
