// Engraved bars side by side; while a sound plays, the bar that sounds is framed and marked.

function render({ model, el }) {
  const page = document.createElement("div");
  page.className = "labcore-score";
  page.setAttribute("role", "img");
  el.append(page);
  let bars = [];

  const engrave = (made, svg) => {
    made.innerHTML = svg;
    const drawn = made.querySelector("svg");
    drawn.setAttribute("aria-hidden", "true");
    const [, , width, height] = drawn.getAttribute("viewBox").split(" ").map(Number);
    drawn.style.width = `${width * model.get("scale")}px`;
    drawn.style.aspectRatio = `${width} / ${height}`; // on a narrow page it shrinks whole
  };
  const write = (made, count) => {
    const words = document.createElement("p");
    words.textContent = count;
    made.append(words);
  };
  const build = () => {
    page.setAttribute("aria-label", model.get("words"));
    bars = model.get("bars").map((bar) => {
      const made = document.createElement("figure");
      if (bar.svg) engrave(made, bar.svg);
      else write(made, bar.count);
      const name = document.createElement("figcaption");
      name.textContent = bar.name;
      made.prepend(name);
      return made;
    });
    page.replaceChildren(...bars);
  };
  const follow = (event) => {
    if (event.detail.player !== model.get("player")) return;
    const now = event.detail.time_s;
    model.get("bars").forEach((bar, k) => {
      const sounds = bar.spans.some(([start, end]) => now >= start && now < end);
      bars[k].classList.toggle("labcore-now", sounds);
    });
  };
  const rest = () => bars.forEach((bar) => bar.classList.remove("labcore-now"));
  window.addEventListener("labcore:time", follow);
  window.addEventListener("labcore:quiet", rest);
  model.on("change:bars change:words", build);
  build();
  return () => {
    window.removeEventListener("labcore:time", follow);
    window.removeEventListener("labcore:quiet", rest);
    model.off("change:bars change:words", build);
  };
}

export default { render };
