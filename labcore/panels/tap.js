// A button to tap the beat on. The page itself times the taps, so that no way to Python blurs them.

const FORGET_MS = 3000; // a longer gap begins a new count
const LEAST = 4; // taps before a tempo is told
const KEPT = 9; // the last taps that count

function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

function render({ model, el }) {
  const box = document.createElement("div");
  box.className = "labcore-control";
  const button = document.createElement("button");
  button.type = "button";
  button.className = "labcore-button";
  button.textContent = model.get("label");
  const told = document.createElement("span");
  told.className = "labcore-unit";
  told.setAttribute("role", "status");
  box.append(button, told);
  el.append(box);
  let taps = [];

  const tap = (time_ms) => {
    if (taps.length && time_ms - taps.at(-1) > FORGET_MS) taps = [];
    taps = [...taps, time_ms].slice(-KEPT);
    if (taps.length < LEAST) {
      told.textContent = `${LEAST - taps.length} more`;
      return;
    }
    const steps = taps.slice(1).map((t, k) => t - taps[k]);
    const bpm = 60000 / median(steps);
    told.textContent = `${bpm.toFixed(0)} a minute`;
    model.set("tempo_bpm", bpm);
    model.save_changes();
  };
  button.addEventListener("pointerdown", (event) => tap(event.timeStamp));
  button.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.repeat || (event.key !== " " && event.key !== "Enter")) return;
    event.preventDefault();
    tap(event.timeStamp);
  });
}

export default { render };
