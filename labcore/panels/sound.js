// Buttons that ask Python for a sound and play it. The sound system is woken inside the press
// itself, because browsers only allow sound that answers a press.

const LEVEL = 0.25; // of full scale: a quiet start, the reader turns it up

let context = null;

function awake() {
  context ??= new AudioContext();
  context.resume();
  return context;
}

function render({ model, el }) {
  const bar = document.createElement("div");
  bar.className = "labcore-control";
  bar.setAttribute("role", "group");
  const told = document.createElement("span");
  told.className = "labcore-status";
  told.setAttribute("role", "status");
  el.append(bar, told);
  let playing = null; // { button, source, started }
  let wanted = null;
  let ask = 0;

  const name = (k) => model.get("labels")[k];
  const mark = () => {
    [...bar.children].forEach((made, k) => {
      const on = playing?.button === k;
      made.style.minWidth = on ? `${made.offsetWidth}px` : ""; // its neighbours stay in place
      made.textContent = on ? "stop" : name(k);
      made.setAttribute("aria-pressed", String(on));
    });
  };
  const tell = (time_s) => {
    const detail = { player: model.get("voice"), time_s };
    window.dispatchEvent(new CustomEvent("labcore:time", { detail }));
  };
  const stop = () => {
    cancelAnimationFrame(ask);
    const source = playing?.source;
    playing = null;
    wanted = null;
    source?.stop();
    mark();
  };
  const run = () => {
    if (!playing) return;
    tell(Math.max(0, context.currentTime - playing.started));
    ask = requestAnimationFrame(run);
  };
  const press = (k) => {
    const again = playing?.button === k;
    window.dispatchEvent(new CustomEvent("labcore:quiet", { detail: { player: "" } }));
    if (again) return;
    awake();
    wanted = k;
    model.send(k);
  };
  const play = async (message, buffers) => {
    told.classList.toggle("labcore-problem", Boolean(message.problem));
    told.textContent = message.problem ?? "";
    if (message.problem || message.button !== wanted) return;
    const view = buffers[0];
    const bytes = view.buffer.slice(view.byteOffset, view.byteOffset + view.byteLength);
    const sound = await awake().decodeAudioData(bytes);
    if (message.button !== wanted) return;
    wanted = null; // a button pressed twice before its sound came plays once
    const source = new AudioBufferSourceNode(context, { buffer: sound });
    source.connect(new GainNode(context, { gain: LEVEL })).connect(context.destination);
    source.addEventListener("ended", () => { if (playing?.source === source) stop(); });
    source.start();
    playing = { button: message.button, source, started: context.currentTime };
    mark();
    run();
  };
  const quiet = (event) => { if (event.detail.player !== model.get("voice")) stop(); };

  const build = () => {
    bar.setAttribute("aria-label", model.get("label"));
    bar.replaceChildren(...model.get("labels").map((_, k) => {
      const made = document.createElement("button");
      made.type = "button";
      made.className = "labcore-button";
      made.addEventListener("click", () => press(k));
      made.addEventListener("keydown", (event) => event.stopPropagation());
      return made;
    }));
    mark();
  };
  window.addEventListener("labcore:quiet", quiet);
  model.on("msg:custom", play);
  model.on("change:labels change:label", build);
  build();
  return () => {
    stop();
    window.removeEventListener("labcore:quiet", quiet);
    model.off("msg:custom", play);
    model.off("change:labels change:label", build);
  };
}

export default { render };
