// One line that a screen reader reads out when it changes.

function render({ model, el }) {
  const line = document.createElement("div");
  line.className = "labcore-status";
  line.setAttribute("role", "status");
  el.append(line);
  const show = () => {
    line.classList.toggle("labcore-problem", model.get("problem"));
    line.textContent = model.get("text");
  };
  model.on("change:text change:problem", show);
  show();
  return () => model.off("change:text change:problem", show);
}

export default { render };
