// One of several, as native radio buttons (drawn as a row of words) or as a native list.

function render({ model, el }) {
  const group = document.createElement("fieldset");
  group.className = "labcore-control labcore-choice";
  el.append(group);
  const name = `labcore-choice-${Math.random()}`; // radios of one name are one choice, page-wide

  const choose = (value) => {
    model.set("value", value);
    model.save_changes();
  };

  const asList = () => {
    const select = document.createElement("select");
    select.setAttribute("aria-label", model.get("label"));
    for (const option of model.get("options")) select.add(new Option(option, option));
    select.value = model.get("value");
    select.disabled = !model.get("enabled");
    select.addEventListener("change", () => choose(select.value));
    select.addEventListener("keydown", (event) => event.stopPropagation());
    return select;
  };

  const asRow = () => {
    const row = document.createElement("span");
    row.className = "labcore-row";
    for (const option of model.get("options")) {
      const label = document.createElement("label");
      const radio = document.createElement("input");
      radio.type = "radio";
      radio.name = name;
      radio.value = option;
      radio.checked = option === model.get("value");
      radio.disabled = !model.get("enabled");
      radio.addEventListener("change", () => choose(option));
      radio.addEventListener("keydown", (event) => event.stopPropagation());
      const words = document.createElement("span");
      words.textContent = option;
      label.append(radio, words);
      row.append(label);
    }
    return row;
  };

  const build = () => {
    const legend = document.createElement("legend");
    legend.className = "labcore-label";
    legend.textContent = model.get("label");
    const hint = document.createElement("span");
    hint.className = "labcore-unit";
    hint.textContent = model.get("hint");
    group.replaceChildren(legend, model.get("as_list") ? asList() : asRow(), hint);
  };

  // A new value only moves the mark: rebuilding would take the keyboard's place away.
  const mark = () => {
    const value = model.get("value");
    for (const radio of group.querySelectorAll("input")) radio.checked = radio.value === value;
    const select = group.querySelector("select");
    if (select) select.value = value;
  };

  model.on("change:value", mark);
  model.on("change:options change:label change:enabled change:hint", build);
  build();
  return () => {
    model.off("change:value", mark);
    model.off("change:options change:label change:enabled change:hint", build);
  };
}

export default { render };
