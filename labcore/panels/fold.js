// The handle of something folded away; what it folds is shown and hidden by Python.

function render({ model, el }) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "labcore-fold";
  el.append(button);
  const show = () => {
    button.textContent = model.get("label");
    button.setAttribute("aria-expanded", String(model.get("is_open")));
  };
  button.addEventListener("click", () => {
    model.set("is_open", !model.get("is_open"));
    model.save_changes();
  });
  button.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change:label change:is_open", show);
  show();
  return () => model.off("change:label change:is_open", show);
}

export default { render };
