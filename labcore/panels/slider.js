// A native range with its number box. JupyterLab listens for arrow keys; they are kept here.

const KEPT = /^(Arrow|Page|Home|End)/;

function digits(step) {
  return (String(step).split(".")[1] ?? "").length;
}

function render({ model, el }) {
  const box = document.createElement("label");
  box.className = "labcore-control labcore-slider";
  const name = document.createElement("span");
  name.className = "labcore-label";
  const range = document.createElement("input");
  range.type = "range";
  const number = document.createElement("input");
  number.type = "number";
  const unit = document.createElement("span");
  unit.className = "labcore-unit";
  const limit = document.createElement("span");
  limit.className = "labcore-limit labcore-problem";
  limit.setAttribute("role", "status");
  box.append(name, range, number, unit, limit);
  el.append(box);

  let limited = null; // what a number out of range was cut to
  const show = () => {
    if (model.get("value") !== limited) limit.textContent = "";
    const label = model.get("label");
    const value = model.get("value");
    name.textContent = label;
    unit.textContent = model.get("unit");
    range.setAttribute("aria-label", label);
    number.setAttribute("aria-label", `${label}, as a number`);
    number.setAttribute("aria-description", model.get("unit"));
    for (const input of [range, number]) {
      input.min = model.get("low");
      input.max = model.get("high");
      input.step = model.get("step");
      input.disabled = !model.get("enabled");
      if (Number(input.value) !== value || input.value === "") input.value = value.toFixed(digits(model.get("step")));
    }
    range.setAttribute("aria-valuetext", `${range.value} ${model.get("unit")}`);
  };
  const take = (input) => {
    const value = Number(input.value);
    if (input.value === "" || !Number.isFinite(value)) return show();
    const within = Math.min(Math.max(value, model.get("low")), model.get("high"));
    limited = within;
    limit.textContent = within === value ? "" : `${value} was written; ${within} is the ${within < value ? "most" : "least"} here`;
    model.set("value", within);
    model.save_changes();
    show();
  };
  range.addEventListener("input", () => take(range));
  number.addEventListener("change", () => take(number));
  for (const input of [range, number]) {
    input.addEventListener("keydown", (event) => {
      if (KEPT.test(event.key) || input === number) event.stopPropagation();
    });
  }
  const watched = "change:value change:label change:low change:high change:step change:unit change:enabled";
  model.on(watched, show);
  show();
  return () => model.off(watched, show);
}

export default { render };
