// A line to write in. Keys stay here, so that a page's shortcuts do not act on what is typed.

function render({ model, el }) {
  const box = document.createElement("label");
  box.className = "labcore-control labcore-textbox";
  const name = document.createElement("span");
  name.className = "labcore-label";
  const input = document.createElement("input");
  input.type = "text";
  input.spellcheck = false;
  box.append(name, input);
  el.append(box);

  const show = () => {
    name.textContent = model.get("label");
    input.placeholder = model.get("hint");
    input.disabled = !model.get("enabled");
  };
  const fill = () => { input.value = model.get("value"); };
  const take = () => {
    model.set("value", input.value);
    model.save_changes();
  };
  input.addEventListener("change", take);
  input.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change:label change:hint change:enabled", show);
  model.on("change:value", fill); // another hint leaves what is half typed
  show();
  fill();
  return () => {
    model.off("change:label change:hint change:enabled", show);
    model.off("change:value", fill);
  };
}

export default { render };
