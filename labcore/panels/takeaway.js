// Buttons that ask Python for a file and hand it to the reader, as any download of the page.

function render({ model, el }) {
  const bar = document.createElement("div");
  bar.className = "labcore-control";
  bar.setAttribute("role", "group");
  bar.setAttribute("aria-label", model.get("label"));
  const told = document.createElement("span");
  told.className = "labcore-status";
  told.setAttribute("role", "status");
  model.get("labels").forEach((words, k) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "labcore-button";
    button.textContent = words;
    button.addEventListener("click", () => {
      told.classList.remove("labcore-problem");
      told.textContent = "one moment";
      model.send(k);
    });
    button.addEventListener("keydown", (event) => event.stopPropagation());
    bar.append(button);
  });
  el.append(bar, told);

  const take = (message, buffers) => {
    told.classList.toggle("labcore-problem", Boolean(message.problem));
    told.textContent = message.problem ?? `${message.name} is in your downloads.`;
    if (message.problem) return;
    const url = URL.createObjectURL(new Blob([buffers[0]], { type: message.type }));
    const link = document.createElement("a");
    link.href = url;
    link.download = message.name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(url), 10000);
  };
  model.on("msg:custom", take);
  return () => model.off("msg:custom", take);
}

export default { render };
