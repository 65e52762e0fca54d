// Gives the controls of a lesson time to start on a busy machine.
// anywidget waits two seconds for a widget's script (`AbortSignal.timeout(2000)` when its model is
// made); a widget that took longer is drawn, but hears nothing from Python ever after. A lesson
// starts fifty of them at once, so here that wait is a minute. Other waits stay as they are.

(() => {
  const TWO_SECONDS_MS = 2000;
  const ENOUGH_MS = 60000;
  const timeout = AbortSignal.timeout.bind(AbortSignal);
  AbortSignal.timeout = (ms) => timeout(ms === TWO_SECONDS_MS ? ENOUGH_MS : ms);

  const plugin = { id: "labcore-patience:plugin", autoStart: true, activate() {} };
  globalThis._JUPYTERLAB ??= {};
  globalThis._JUPYTERLAB["labcore-patience"] = {
    init: async () => {},
    get: async (name) => {
      if (name !== "./extension") throw new Error(`labcore-patience has no part ${name}`);
      return () => ({ __esModule: true, default: plugin });
    },
  };
})();
