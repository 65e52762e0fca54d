// Runs a lesson when it is opened: a reader finds pictures and controls, not buttons to press.
// Only `python -m labcore` loads this, and only lessons (notebooks/NN_name.ipynb) are run.
// It speaks to JupyterLab as a prebuilt extension does: a container with `init` and `get`.

(() => {
  const LESSON = /(^|\/)notebooks\/\d\d_[a-z0-9_]+\.ipynb$/;
  // JupyterLab shows 140 letters of a notice.
  const ELSEWHERE = "This lesson is open in another tab: go on there, or start it here and end it there. Close that tab, and it starts here.";
  const MOVED = "This lesson was started in another tab, where its controls are now. Load this page again to have it here.";
  const START_HERE = "labcore:start-here";
  const LET_GO_MS = 1000; // a page that is loaded again waits for itself to go
  const opened = new WeakSet();

  // A kernel that already holds widgets has run the lesson before.
  async function isRunning(panel) {
    const reply = await panel.sessionContext.session.kernel.requestCommInfo({ target_name: "jupyter.widget" });
    return Object.keys(reply.content.comms ?? {}).length > 0;
  }

  // A lesson keeps no pictures in its file (labcore/lab/saving.py), so the browser remembers which
  // widgets stood where: closed by mistake and opened again, a lesson is as it was left.
  const shelf = (panel) => `labcore ${panel.context.path}`;
  const kernelOf = (panel) => panel.sessionContext.session?.kernel?.id;
  const codeCells = (panel) => [...panel.content.model.cells].filter((cell) => cell.type === "code");

  function remember(panel) {
    if (panel.isDisposed) return;
    const cells = codeCells(panel).map((cell) => [cell.id, { count: cell.executionCount, outputs: cell.outputs.toJSON() }]);
    try {
      localStorage.setItem(shelf(panel), JSON.stringify({ kernel: kernelOf(panel), cells: Object.fromEntries(cells) }));
    } catch { /* no room, or not allowed: the lesson is run anew */ }
  }

  function remembered(panel) {
    try {
      return JSON.parse(localStorage.getItem(shelf(panel))) ?? {};
    } catch {
      return {};
    }
  }

  function bringBack(panel) {
    const kept = remembered(panel);
    if (!kept.kernel || kept.kernel !== kernelOf(panel)) return false;
    for (const cell of codeCells(panel)) {
      const was = kept.cells[cell.id];
      if (!was) continue;
      cell.trusted = true;
      cell.outputs.fromJSON(was.outputs);
      cell.executionCount = was.count;
    }
    return true;
  }

  // Saved at once, the file is as it was and the browser asks nothing when the page is closed.
  async function settle(panel) {
    remember(panel);
    if (panel.context.contentsModel?.writable) await panel.context.save();
  }

  // A page that is loaded again gets its widgets back from the kernel; a busy machine may be too
  // slow for JupyterLab's patience, and then the lesson is run anew.
  async function cameBack(panel) {
    if (!bringBack(panel)) return false;
    const lost = () => [...panel.node.querySelectorAll(".jp-OutputArea-output")]
      .some((output) => output.textContent.startsWith("Error displaying widget"));
    for (let look = 0; look < 20; look += 1) {
      if (lost()) return false;
      await new Promise((resolve) => setTimeout(resolve, 500));
    }
    return true;
  }

  // Two tabs of one lesson share one Python: a run in the second would take the first one's
  // controls away, in the middle of a take as well. So the first tab holds a lock of the browser.
  // Says whether this page was alone from the beginning.
  async function untilAlone(app, panel) {
    if (!navigator.locks) return true; // only known to pages that are opened on this computer
    const closed = new Promise((close) => panel.disposed.connect(close));
    const name = `labcore ${panel.sessionContext.session.kernel.id}`;
    const hold = (options) => new Promise((held, refused) => {
      let isMine = false;
      const keep = () => { isMine = true; held(); return closed; };
      navigator.locks.request(name, options, keep).catch((error) => (isMine ? tell(app, MOVED) : refused(error)));
    });
    try {
      await hold({ signal: AbortSignal.timeout(LET_GO_MS) });
      return true;
    } catch {
      await waitOutside(app, { name, hold });
      return false;
    }
  }

  const starters = new Map(); // by name of the lock: what a press on “start it here” does

  async function waitOutside(app, { name, hold }) {
    const pressed = new Promise((press) => starters.set(name, () => press(true)));
    const actions = [{ label: "Start it here", commandId: START_HERE, args: { name } }];
    const id = await tell(app, ELSEWHERE, actions);
    if (await Promise.race([hold({}), pressed])) await hold({ steal: true });
    app.commands.execute("apputils:dismiss-notification", { id });
  }

  function tell(app, message, actions = []) {
    return app.commands.execute("apputils:notify", { message, type: "info", options: { autoClose: false, actions } });
  }

  async function run(app, panel) {
    if (!panel || opened.has(panel) || !panel.sessionContext || !LESSON.test(panel.context?.path ?? "")) return;
    opened.add(panel);
    await panel.context.ready;
    await panel.sessionContext.ready;
    await panel.sessionContext.session?.kernel?.info; // before this, a run is lost
    if (app.shell.currentWidget !== panel) return void opened.delete(panel);
    const isAlone = await untilAlone(app, panel);
    const hidden = () => remember(panel);
    window.addEventListener("pagehide", hidden);
    panel.disposed.connect(() => window.removeEventListener("pagehide", hidden)); // lets go of the panel
    if (isAlone && (await isRunning(panel)) && (await cameBack(panel))) return settle(panel); // loaded again
    const release = holdAtTop(panel);
    await app.commands.execute("notebook:run-all-cells");
    await settle(panel);
    panel.content.activeCellIndex = 0;
    setTimeout(release, 1500); // pictures still grow for a moment
  }

  // Running moves the page from cell to cell; it stays at its top until the reader moves it.
  function holdAtTop(panel) {
    const page = panel.content.node.querySelector(".jp-WindowedPanel-outer") ?? panel.content.node;
    let held = true;
    const release = () => { held = false; };
    for (const sign of ["wheel", "pointerdown", "keydown", "touchstart"]) {
      panel.node.addEventListener(sign, release, { once: true, capture: true });
    }
    const hold = () => {
      if (!held) return;
      page.scrollTop = 0;
      requestAnimationFrame(hold);
    };
    hold();
    return release;
  }

  const plugin = {
    id: "labcore-open:plugin",
    description: "Runs a lesson when it is opened.",
    autoStart: true,
    activate(app) {
      app.commands.addCommand(START_HERE, { label: "Start the lesson here", execute: ({ name }) => starters.get(name)?.() });
      const look = () => run(app, app.shell.currentWidget).catch((error) => console.warn("labcore-open", error));
      app.restored.then(() => {
        look();
        app.shell.currentChanged?.connect(look);
      });
    },
  };

  globalThis._JUPYTERLAB ??= {};
  globalThis._JUPYTERLAB["labcore-open"] = {
    init: async () => {},
    get: async (name) => {
      if (name !== "./extension") throw new Error(`labcore-open has no part ${name}`);
      return () => ({ __esModule: true, default: plugin });
    },
  };
})();
