function render({ model, el }) {
  const button = document.createElement("button");
  button.type = "button";
  el.append(button);
  const show = () => {
    button.className = model.get("strong") ? "labcore-button labcore-strong" : "labcore-button";
    button.textContent = model.get("label");
    button.disabled = !model.get("enabled");
  };
  button.addEventListener("click", () => model.send("press"));
  button.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change:label change:enabled change:strong", show);
  show();
  return () => model.off("change:label change:enabled change:strong", show);
}

export default { render };
