// A Picture in the page: draws its figure with plotly, says it in words, and lets a player's line
// run through it. The line is moved by the page itself; Python is not asked while sound plays.

const QUIET = { displayModeBar: false, scrollZoom: false, doubleClick: false, responsive: false };

// Plotly comes as text in the carrier widget and is run once for all pictures of the page, as a
// script of its own: the browser reads it beside the page's other work. Page and Python then let go
// of the text (ten megabytes, which Python would tell again after each sleep of the laptop, and
// JupyterLab keep each time); a page that is loaded again asks for it.
async function plotlyFrom(model) {
  const carrier = await model.widget_manager.get_model(model.get("carrier").slice("IPY_MODEL_".length));
  const version = carrier.get("description");
  const shelf = (globalThis.labcorePlotly ??= new Map());
  if (!shelf.has(version)) {
    const drawing = textOf(carrier).then(run);
    shelf.set(version, drawing);
    drawing.catch(() => shelf.delete(version)); // the next picture may be luckier
  }
  const ready = await shelf.get(version);
  if (!carrier.isRead) carrier.on("change:value", letGo);
  carrier.isRead = true;
  letGo(carrier);
  return ready;
}

function textOf(carrier) {
  if (carrier.get("value")) return Promise.resolve(carrier.get("value"));
  return new Promise((resolve) => {
    carrier.once("change:value", () => resolve(carrier.get("value")));
    carrier.send({ wants: "plotly" });
  });
}

function letGo(carrier) {
  if (!carrier.get("value")) return;
  carrier.set("value", "");
  carrier.save_changes();
}

function run(code) {
  const address = URL.createObjectURL(new Blob([code], { type: "text/javascript" }));
  const script = document.createElement("script");
  const before = window.Plotly;
  return new Promise((resolve, reject) => {
    script.addEventListener("load", () => {
      resolve(window.Plotly);
      window.Plotly = before; // another page's plotly stays its own
    });
    script.addEventListener("error", () => reject(new Error("its drawing code did not load")));
    script.src = address;
    document.head.append(script);
  }).finally(() => { script.remove(); URL.revokeObjectURL(address); });
}

function element(tag, className, parent) {
  const made = document.createElement(tag);
  made.className = className;
  parent.append(made);
  return made;
}

// Where a time of the recording lies in the picture, in pixels; null outside every row.
export function placeOf(time_s, layout, width_px) {
  const rows = layout.meta?.rows ?? [];
  const row = rows.find((r) => r.start_s <= time_s && time_s < r.end_s);
  if (!row) return null;
  const { l, r, t, b } = layout.margin;
  const across = (width_px - l - r);
  const down = layout.height - t - b;
  const share = (time_s - row.start_s) / (row.end_s - row.start_s);
  return {
    x: l + across * (row.x0 + share * (row.x1 - row.x0)),
    top: t + down * row.y0,
    bottom: t + down * row.y1,
  };
}

// The time of the recording under a point of the picture; null outside every row.
export function timeAt(x_px, y_px, layout, width_px) {
  const { l, r, t, b } = layout.margin;
  const x = (x_px - l) / (width_px - l - r);
  const y = (y_px - t) / (layout.height - t - b);
  const row = (layout.meta?.rows ?? []).find((q) => q.x0 <= x && x <= q.x1 && q.y0 <= y && y < q.y1);
  if (!row) return null;
  return row.start_s + ((x - row.x0) / (row.x1 - row.x0)) * (row.end_s - row.start_s);
}

const NARROW_PX = 640; // under it, pictures that stand side by side go below each other

// The figure's layout on a page so wide; a figure may say what a narrow page puts in its place.
export function layoutFor(layout, width_px) {
  const found = { ...layout, width: width_px, autosize: false };
  const narrow = width_px < NARROW_PX ? (layout.meta?.narrow ?? {}) : {};
  for (const [name, value] of Object.entries(narrow)) {
    const isPart = typeof value === "object" && !Array.isArray(value);
    found[name] = isPart ? { ...layout[name], ...value } : value;
  }
  return found;
}

function render({ model, el }) {
  const box = element("figure", "labcore-picture", el);
  const plot = element("div", "labcore-plot", box);
  plot.setAttribute("role", "img");
  const line = element("div", "labcore-line", box);
  line.hidden = true;
  const caption = element("figcaption", "labcore-words", box);
  let plotly = null;
  let layout = null;
  let gone = false;

  const say = () => {
    const words = model.get("words");
    plot.setAttribute("aria-label", words);
    caption.textContent = words;
    caption.classList.toggle("labcore-unseen", !model.get("show_words"));
  };

  const draw = async () => {
    if (!plotly || gone || box.clientWidth === 0) return;
    const figure = JSON.parse(model.get("figure_json"));
    layout = layoutFor(figure.layout, box.clientWidth);
    await plotly.react(plot, figure.data, layout, QUIET);
    plot.dataset.drawn = String(Number(plot.dataset.drawn ?? 0) + 1);
  };

  // Several traits may change at once; the picture is drawn once. What Python sent is drawn when all
  // of it is there; a change of size waits for the frame, as drawing may change the size again.
  let waiting = false;
  const drawn = (when) => () => {
    if (waiting) return;
    waiting = true;
    when(() => { waiting = false; draw(); });
  };
  const drawSoon = drawn(queueMicrotask);
  const drawNextFrame = drawn(requestAnimationFrame);

  const follow = (event) => {
    if (!layout || event.detail.player !== model.get("player")) return;
    const place = placeOf(event.detail.time_s, layout, box.clientWidth);
    line.hidden = place === null;
    if (place === null) return;
    line.style.transform = `translate(${place.x}px, ${place.top}px)`;
    line.style.height = `${place.bottom - place.top}px`;
  };

  const seek = (event) => {
    if (!layout || !model.get("player")) return;
    const edge = box.getBoundingClientRect();
    const time_s = timeAt(event.clientX - edge.left, event.clientY - edge.top, layout, box.clientWidth);
    if (time_s === null) return;
    const detail = { player: model.get("player"), time_s };
    window.dispatchEvent(new CustomEvent("labcore:seek", { detail }));
  };

  model.on("change:figure_json", drawSoon);
  model.on("change:words change:show_words", say);
  window.addEventListener("labcore:time", follow);
  plot.addEventListener("click", seek);
  const watcher = new ResizeObserver(drawNextFrame);
  watcher.observe(box);
  say();
  plotlyFrom(model).then(
    (ready) => { plotly = ready; drawNextFrame(); },
    (error) => { caption.classList.remove("labcore-unseen"); plot.textContent = `The picture could not be drawn (${error.message}); its words stand below.`; },
  );

  return () => {
    gone = true;
    watcher.disconnect();
    window.removeEventListener("labcore:time", follow);
    model.off("change:figure_json", drawSoon);
    model.off("change:words change:show_words", say);
    if (plotly) plotly.purge(plot);
  };
}

export default { render };
