"""JupyterLab in headless Chromium: a server that reads nobody's settings, a page that may not leave this machine."""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import ExitStack, contextmanager
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
# Visible texts of panels that stand out too little, as WCAG 2.1 asks in 1.4.3: 4.5 to 1, large ones 3 to 1. Relative luminance of
# ink and ground, colours laid over each other; boxes that are switched off are exempt there.
FAINT = """() => {
  const parse = c => { const n = c.match(/-?[\\d.]+(e-?\\d+)?/g).map(Number);
    return c.startsWith('color(srgb') ? [...n.slice(0, 3).map(v => v * 255), n[3] ?? 1] : n; };
  const over = (top, below) => { const a = top[3] ?? 1; return [0, 1, 2].map(i => top[i] * a + below[i] * (1 - a)); };
  const light = rgb => rgb.map(v => v / 255).map(v => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ratio = (e, ink) => {
    let behind = [255, 255, 255], fade = 1; const layers = [];
    for (let p = e; p; p = p.parentElement) {
      layers.unshift(parse(getComputedStyle(p).backgroundColor));
      fade *= getComputedStyle(p).opacity;
    }
    behind = layers.reduce((below, top) => over(top, below), behind);
    const c = parse(ink); c[3] = (c[3] ?? 1) * fade;
    const [a, b] = [light(over(c, behind)), light(behind)].sort((x, y) => y - x);
    return (a + 0.05) / (b + 0.05); };
  const found = [];
  for (const e of document.querySelectorAll('.palea-panel, .palea-panel *')) {
    if (!e.checkVisibility({ opacityProperty: true, visibilityProperty: true }) || e.disabled) continue;
    if (e.closest('style, defs, .palea-hidden, caption')) continue;
    const style = getComputedStyle(e), svg = e instanceof SVGElement;
    const own = [...e.childNodes].filter(n => n.nodeType === 3).map(n => n.textContent).join('').trim();
    const size = parseFloat(style.fontSize), large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    const inks = [];
    if (own || e.value) inks.push([own || e.value, svg ? style.fill : style.color]);
    if (e.placeholder && !e.value) inks.push([e.placeholder, getComputedStyle(e, '::placeholder').color]);
    for (const [text, ink] of inks) {
      if (svg && ink === 'none') continue;
      const r = ratio(e, ink);
      const named = `${e.tagName}.${e.className.baseVal ?? e.className}`;
      if (r < (large ? 3 : 4.5)) found.push(`${r.toFixed(2)} ${named}: ${text.slice(0, 40)}`);
    }
  }
  return found; }"""
THEME = "name => jupyterapp.commands.execute('apputils:change-theme', {theme: name})"


@contextmanager
def running_lab(home):
    """(url, folder) of a JupyterLab that keeps all its settings in `home`."""
    root = home / "work"
    root.mkdir()
    with running_server(home, root) as (url, _):
        yield url, root


@contextmanager
def running_server(home, root):
    """(url, process) of a JupyterLab on the folder `root`, with its settings in `home`."""
    page_config = home / "jupyter_config_dir" / "labconfig" / "page_config.json"
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
        yield f"http://127.0.0.1:{port}", server
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
def other_server(lab, tmp_path):
    """(url, process) of a second JupyterLab on the folder of this session's, which a test may kill."""
    with running_server(tmp_path / "other", lab[1]) as found:
        yield found


@pytest.fixture
def open_anew(browser):
    """A function (url, folder, name) that opens a notebook in a browser of its own, closing the one before, and runs it."""
    with ExitStack() as stack:

        def open_(url, folder, name):
            stack.close()
            page = stack.enter_context(local_page(browser))
            assert open_and_run(page, url, folder, name) is True
            return page

        yield open_


@pytest.fixture
def faint(page):
    """A function that tells which visible texts of the panels cannot be read well."""
    return lambda: sorted(set(page.evaluate(FAINT)))


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
