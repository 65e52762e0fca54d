// A melody to mark: under each note a box to tick, over a ticked note a wavy line. While a sound
// plays, the note that sounds is coloured and has a mark under its box.

const WAVE = "M0 4 q3 -7 6 0 t6 0 t6 0 t6 0";

function render({ model, el }) {
  const page = document.createElement("div");
  page.className = "labcore-marks";
  page.setAttribute("role", "group");
  el.append(page);
  let notes = [];

  const drawn = (place) => page.querySelector(`[data-note="${place}"]`);
  const place = () => {
    const outer = page.getBoundingClientRect();
    notes.forEach(({ note, label, wave }) => {
      const box = drawn(note.place).getBoundingClientRect();
      const middle = box.left + box.width / 2 - outer.left;
      label.style.left = `${middle}px`;
      wave.style.left = `${middle}px`;
    });
  };
  const mark = () => {
    const marked = model.get("marked");
    notes.forEach(({ note, input, wave }) => {
      input.checked = marked.includes(note.place);
      wave.style.visibility = input.checked ? "visible" : "hidden";
    });
  };
  const toggle = (note, on) => {
    const rest = model.get("marked").filter((k) => k !== note.place);
    model.set("marked", on ? [...rest, note.place].sort((a, b) => a - b) : rest);
    model.save_changes();
    mark();
  };
  const make = (note) => {
    const label = document.createElement("label");
    label.className = "labcore-tick";
    const input = document.createElement("input");
    input.type = "checkbox";
    input.setAttribute("aria-label", note.words);
    input.addEventListener("change", () => toggle(note, input.checked));
    input.addEventListener("keydown", (event) => event.stopPropagation());
    label.append(input);
    const wave = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    wave.setAttribute("class", "labcore-wave");
    wave.setAttribute("viewBox", "-1 -2 26 12");
    wave.setAttribute("aria-hidden", "true");
    wave.innerHTML = `<path d="${WAVE}" fill="none" stroke="currentColor" stroke-width="1.8"/>`;
    page.append(wave, label);
    return { note, label, input, wave };
  };
  const build = () => {
    page.setAttribute("aria-label", model.get("words"));
    page.innerHTML = model.get("svg");
    const svg = page.querySelector("svg");
    svg.setAttribute("aria-hidden", "true");
    const [, , width, height] = svg.getAttribute("viewBox").split(" ").map(Number);
    page.style.maxWidth = `${width * model.get("scale")}px`;
    svg.style.width = "100%";
    svg.style.aspectRatio = `${width} / ${height}`;
    notes = model.get("notes").map(make);
    mark();
    place();
  };
  const follow = (event) => {
    if (event.detail.player !== model.get("player")) return;
    const now = event.detail.time_s;
    notes.forEach(({ note, label }) => {
      const sounds = now >= note.span[0] && now < note.span[1];
      label.classList.toggle("labcore-now", sounds);
      drawn(note.place).style.color = sounds ? "#d55e00" : "";
      drawn(note.place).style.fill = sounds ? "#d55e00" : "";
    });
  };
  const rest = () => notes.forEach(({ note, label }) => {
    label.classList.remove("labcore-now");
    drawn(note.place).style.color = drawn(note.place).style.fill = "";
  });
  const sized = new ResizeObserver(place);
  sized.observe(page);
  window.addEventListener("labcore:time", follow);
  window.addEventListener("labcore:quiet", rest);
  model.on("change:svg change:notes", build);
  model.on("change:marked", mark);
  build();
  return () => {
    sized.disconnect();
    window.removeEventListener("labcore:time", follow);
    window.removeEventListener("labcore:quiet", rest);
    model.off("change:svg change:notes", build);
    model.off("change:marked", mark);
  };
}

export default { render };
