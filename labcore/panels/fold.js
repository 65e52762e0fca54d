// The handle of something folded away; what it folds is shown and hidden by Python.

function render({ model, el }) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "labcore-fold";
  el.append(button);
  const show = () => {
    button.textContent = model.get("label");
    button.setAttribute("aria-expanded", String(model.get("open")));
  };
  button.addEventListener("click", () => {
    model.set("open", !model.get("open"));
    model.save_changes();
  });
  button.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change:label change:open", show);
  show();
  return () => model.off("change:label change:open", show);
}

export default { render };
