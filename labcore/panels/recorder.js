// Records takes with a click that is set on the clock of the sound card. What the microphone
// gives is sent to Python in parts while it is played. This file is the widget: its controls, and
// what they do; `recorder_sound.js`, `recorder_take.js` and `recorder_line.js` stand before it.

const LEAD_S = 0.3; // from the key press to the first click, and before it in the recording
const TAIL_S = 0.4; // after the last bar: the note may ring into it
const AHEAD_S = 1.5; // clicks are set this long before they sound, so a busy page delays none
const ANSWER_MS = 8000; // without an answer after this time the connection counts as lost
const LOUDEST = 0.25; // amplitude of a click at the upper end of its slider
const BETWEEN = 0.3; // loudness of the clicks between the beats

const LOST = "No answer comes: the connection may be lost, or the page is busy. Your take is still on this page. Wait until the page is connected again, then press “send again”; do not close the page before.";
const UNHEARD = "No answer comes: Python may be busy, or stopped. Takes in the list are safe. Press again in a moment; if nothing changes then, run the lesson again (▸▸ above).";
const UNPLUGGED = "The microphone was taken away. What was recorded until then is kept.";

function make(tag, parent, { text = "", kind = "", label = "" } = {}) {
  const made = document.createElement(tag);
  if (text) made.textContent = text;
  if (kind) made.className = kind;
  if (label) made.setAttribute("aria-label", label);
  if (tag === "button") made.type = "button";
  parent.append(made);
  return made;
}

// Takes that did not arrive outlive the widget: they are offered by the next one on this page.
const unsent = (window.labcoreUnsent ??= new Map());

function render({ model, el }) {
  const root = make("div", el, { kind: "labcore-recorder", label: "recorder; the space bar starts and stops a take" });
  root.setAttribute("role", "group");
  root.tabIndex = 0;

  const settings = make("div", root, { kind: "labcore-control" });
  const go = make("button", make("div", root, { kind: "labcore-control" }), { kind: "labcore-button labcore-strong" });
  const free = make("button", go.parentElement, { text: "record without end", kind: "labcore-button" });
  const place = make("span", go.parentElement, { kind: "labcore-place" });
  place.setAttribute("aria-hidden", "true");
  const meterRow = make("div", root, { kind: "labcore-control" });
  const deviceRow = make("div", root, { kind: "labcore-control" });
  const rough = make("figure", root, { kind: "labcore-rough" });
  const canvas = make("canvas", rough, { label: "rough line of the pitch you play" });
  Object.assign(canvas, { width: 1000, height: 150 });
  canvas.setAttribute("role", "img");
  make("figcaption", rough, { text: "The last four seconds, roughly, with the clicks moving under them. What counts is the picture after the take." });
  rough.hidden = true;
  const line = new RoughLine(canvas);
  const status = make("div", root, { kind: "labcore-status" });
  status.setAttribute("role", "status");
  const again = make("button", root, { text: "send again", kind: "labcore-button" });
  again.hidden = true;
  const broken = make("div", root);
  const remarks = make("ul", root, { kind: "labcore-remarks" });
  const list = make("ul", root, { kind: "labcore-takes", label: "recorded takes" });
  const consent = make("p", root, { text: model.get("consent"), kind: "labcore-consent" });
  consent.append(" Headphones keep the click out of the recording. Keep the sound at talking level.");

  const say = (text, problem = false) => {
    status.classList.toggle("labcore-problem", problem);
    status.textContent = text;
  };
  const send = (content, buffers = []) => {
    try { model.send(content, undefined, buffers); } catch { /* told when no answer comes */ }
  };

  // A press that Python has to answer.
  const ask = (content) => {
    clearTimeout(unheard);
    unheard = setTimeout(() => say(UNHEARD, true), ANSWER_MS);
    send(content);
  };

  // --- settings
  const number = (label, name, low, high, unit) => {
    const outer = make("label", settings, { text: `${label} `, kind: "labcore-pair" });
    const input = make("input", outer);
    Object.assign(input, { type: "number", min: low, max: high });
    make("span", outer, { text: ` ${unit}`, kind: "labcore-unit" });
    const show = () => { input.value = model.get(name); };
    input.addEventListener("change", () => {
      const value = Math.round(Number(input.value));
      if (value >= low && value <= high) { model.set(name, value); model.save_changes(); }
      else if (input.value !== "") say(`In the box “${label}” ${input.value} was written; it goes from ${low} to ${high} and stays at ${model.get(name)}.`, true);
      show();
    });
    model.on(`change:${name}`, show);
    show();
    return input;
  };
  const choice = (label, options, parent = settings) => {
    const outer = make("label", parent, { text: `${label} `, kind: "labcore-pair" });
    const select = make("select", outer, { kind: "labcore-button" });
    for (const [value, words] of options) select.add(new Option(words, value));
    return select;
  };
  number("tempo", "tempo_bpm", 30, 240, "clicks a minute");
  const value = choice("note value", [["0", "any"], ...model.get("note_values").map((w, k) => [String(k + 1), `${k + 1} to the click (${w})`])]);
  const showValue = () => { value.value = String(model.get("cycles_per_beat")); };
  value.addEventListener("change", () => { model.set("cycles_per_beat", Number(value.value)); model.save_changes(); });
  model.on("change:cycles_per_beat", showValue);
  showValue();
  number("take of", "bars", 1, 32, "bars");
  const heard = choice("I hear", [["beats", "the clicks"], ["value", "the clicks and the note value"], ["none", "nothing"]]);
  const loudOuter = make("label", settings, { text: "how loud ", kind: "labcore-pair" });
  const loud = make("input", loudOuter);
  Object.assign(loud, { type: "range", min: 0, max: 1, step: 0.05, value: 0.4 });

  // --- level
  const input = choice("input", [["", "the computer's own choice"]], meterRow);
  const meter = make("span", meterRow, { kind: "labcore-meter" });
  meter.setAttribute("aria-hidden", "true");
  const bar = make("span", meter, { kind: "labcore-bar" });
  const levelWords = make("span", meterRow, { kind: "labcore-level" });
  const measure = make("button", deviceRow, { text: "measure the delay", kind: "labcore-button" });
  const shut = make("button", deviceRow, { text: "switch the microphone off", kind: "labcore-button" });

  let level = new Level();
  let take = null;
  let clicks = null;
  let asked = 0; // the frame loop
  let waiting = 0; // for Python's answer to a take
  let unheard = 0; // and to a press
  let opening = null;
  let isGone = false;
  let delay_s = 0; // of what is played against what is heard, if it was measured

  const mark = () => {
    const on = take !== null;
    go.textContent = on ? "stop (space bar)" : "count me in and record (space bar)";
    go.setAttribute("aria-pressed", String(on));
    free.disabled = on;
    measure.disabled = on;
    shut.hidden = !card.isOpen;
    rough.hidden = !card.isOpen;
    root.dataset.state = on ? "recording" : card.isOpen ? "open" : "shut";
    if (!on) place.textContent = "";
  };

  const onBlock = (block) => {
    if (!card.isOpen) return;
    level.add(block, (block.first + block.samples.length) / card.rate);
    if (!take) line.add(block, { rate: card.rate, now: card.context.currentTime });
    if (!take) return;
    clicks?.setUntil(card.context.currentTime + AHEAD_S);
    take.add(block);
    root.dataset.sent = String(take.parts.length);
    line.add(block, { rate: card.rate, now: card.context.currentTime }); // after what must not wait
    if (take.isFull) finish();
  };
  const onGone = () => {
    if (take) finish();
    card.close();
    mark();
    say(UNPLUGGED, true);
  };
  const card = new SoundCard({ listener: model.get("listener"), onBlock, onGone });

  const frame = () => {
    if (!card.isOpen) return;
    const told = level.told;
    bar.style.width = `${100 * told.share}%`;
    const words = `${told.sign} ${told.words}`.trim();
    if (levelWords.textContent !== words) levelWords.textContent = words;
    if (take?.told.purpose === "take") showPlace();
    line.draw(card.context.currentTime, clicks?.grid?.(card.context.currentTime - LINE.seconds, delay_s) ?? []);
    asked = requestAnimationFrame(frame);
  };
  const showPlace = () => {
    if (!clicks) { place.textContent = `${Math.max(0, take.seconds).toFixed(0)} s`; return; }
    const bars = model.get("beats_per_bar");
    const beat = Math.floor((card.context.currentTime - clicks.start) / clicks.beat_s);
    if (beat < 0) place.textContent = "get ready";
    else if (beat < bars) place.textContent = `count-in ${beat + 1}`;
    else if (beat >= clicks.beats) place.textContent = "let it ring";
    else place.textContent = `bar ${Math.floor(beat / bars)}, beat ${(beat % bars) + 1}`;
  };

  const open = (deviceId = input.value) => {
    opening ??= (async () => {
      try {
        say("Asking for the microphone");
        await card.open(deviceId);
        if (isGone) { card.close(); return false; } // the widget went while the reader was asked
        level = new Level();
        line.clear();
        listInputs();
        send({ kind: "input", rate_hz: card.rate, input: card.told });
        say("The microphone is on. Play a note and look at the level.");
        cancelAnimationFrame(asked);
        frame();
        return true;
      } catch (error) {
        say(sentenceFor(error), true);
        return false;
      } finally {
        opening = null;
        mark();
      }
    })();
    return opening;
  };
  const listInputs = () => {
    const now = card.track.getSettings().deviceId ?? "";
    input.replaceChildren();
    for (const device of card.inputs.filter((d) => d.kind === "audioinput")) {
      input.add(new Option(device.label || "microphone", device.deviceId));
    }
    if ([...input.options].some((o) => o.value === now)) input.value = now;
  };
  const close = async () => {
    if (take) finish();
    await card.close();
    cancelAnimationFrame(asked);
    bar.style.width = "0";
    levelWords.textContent = "";
    mark();
  };

  // --- start and stop
  const begin = async ({ purpose, bars = null }) => {
    if (take || (!card.isOpen && !(await open())) || take) return;
    await card.context.resume();
    window.dispatchEvent(new CustomEvent("labcore:quiet", { detail: { player: "" } }));
    const { rate } = card;
    const start = card.context.currentTime + LEAD_S;
    clicks = purpose === "delay" ? probeClicks(start) : beatClicks(start, bars);
    const length_s = lengthOf(purpose, bars);
    const beats = clicks;
    const startFrame = Math.ceil((start - LEAD_S) * rate);
    take = new Recording({
      rate, startFrame, send,
      frames: Math.round(length_s * rate),
      clickTimes: (end) => (beats ? beats.beatTimes(end) : []),
      told: {
        purpose, input: card.told, tempo_bpm: model.get("tempo_bpm"),
        cycles_per_beat: model.get("cycles_per_beat"), beats_per_bar: model.get("beats_per_bar"),
      },
    });
    root.dataset.sent = "0"; // not those of the take before
    clicks?.setUntil(card.context.currentTime + AHEAD_S);
    say(purpose === "delay" ? "Eight clicks over the loudspeaker: headphones off, and quiet, please." : "Recording");
    mark();
  };
  const lengthOf = (purpose, bars) => {
    const probe = model.get("probe");
    if (purpose === "delay") return LEAD_S + (probe.clicks - 1) * probe.every_s + probe.after_s;
    if (bars === null) return model.get("most_take_s");
    return LEAD_S + (bars + 1) * model.get("beats_per_bar") * (60 / model.get("tempo_bpm")) + TAIL_S;
  };
  const probeClicks = (start) => {
    const { every_s, clicks: count } = model.get("probe");
    const sound = { samples: sweep(card.rate, model.get("probe")), loudness: Math.max(0.1, LOUDEST * Number(loud.value)) };
    const made = new Clicks(card, { start, every_s, count, sounds: () => sound });
    made.beatTimes = () => Array.from({ length: count }, (_, k) => start + k * every_s);
    return made;
  };
  const beatClicks = (start, bars) => {
    if (heard.value === "none" && bars === null) return null;
    const beat_s = 60 / model.get("tempo_bpm");
    const inBar = model.get("beats_per_bar");
    const per = heard.value === "value" ? Math.max(1, model.get("cycles_per_beat")) : 1;
    const beats = bars === null ? Infinity : (bars + 1) * inBar;
    const sounds = { accent: tick(card.rate, CLICK.accent_hz), beat: tick(card.rate, CLICK.beat_hz), between: tick(card.rate, CLICK.between_hz) };
    const loudness = () => (heard.value === "none" ? 0 : LOUDEST * Number(loud.value));
    const made = new Clicks(card, {
      start, every_s: beat_s / per, count: beats * per,
      sounds: (k) => {
        if (k % per) return { samples: sounds.between, loudness: BETWEEN * loudness() };
        return { samples: (k / per) % inBar ? sounds.beat : sounds.accent, loudness: loudness() };
      },
    });
    Object.assign(made, { beat_s, beats });
    made.grid = (from, late_s) => {
      const lines = [];
      const every_s = beat_s / Math.max(1, model.get("cycles_per_beat"));
      for (let k = Math.max(0, Math.floor((from - start) / every_s)); k * every_s < from - start + LINE.seconds; k += 1) {
        lines.push({ time: start + k * every_s + late_s, strong: k % Math.max(1, model.get("cycles_per_beat")) === 0 });
      }
      return lines;
    };
    made.beatTimes = (end) => {
      const times = [];
      for (let k = 0; k < beats && start + k * beat_s < end; k += 1) times.push(start + k * beat_s);
      return heard.value === "none" ? [] : times;
    };
    return made;
  };

  const finish = () => {
    const done = take;
    take = null;
    clicks?.stop();
    clicks = null;
    mark();
    if (done.reached <= 0) { say("Nothing was recorded yet."); send({ kind: "drop", take: done.id }); return; }
    unsent.set(done.id, done);
    say("Listening to your take");
    done.end();
    wait();
  };
  const wait = () => {
    clearTimeout(waiting);
    again.hidden = true;
    waiting = setTimeout(() => { if (unsent.size) { say(LOST, true); again.hidden = false; } }, ANSWER_MS);
  };
  const sendAgain = () => {
    say("Sending your take again");
    for (const lost of unsent.values()) { lost.send = send; lost.sendAll(); }
    wait();
  };

  // --- what Python says
  const obey = (message) => {
    const lost = unsent.get(message.take);
    if (message.kind === "heard") { clearTimeout(unheard); if (status.textContent === UNHEARD) say(""); }
    else if (message.kind === "say") say(message.text, message.problem);
    else if (message.kind === "have") { unsent.delete(message.take); if (!unsent.size) { clearTimeout(waiting); again.hidden = true; } }
    else if (message.kind === "again" && lost) { message.parts.forEach((k) => lost.sendPart(k)); lost.end({ isLastTry: true }); }
    else if (message.kind === "unknown" && lost) lost.sendAll();
    else if (message.kind === "input") {
      delay_s = message.delay_s;
      remarks.replaceChildren(...message.words.map((w) => make("li", remarks, { text: w })));
    }
  };
  const lines = (parent, items, actions) => {
    parent.replaceChildren();
    for (const item of items) {
      const line = make(parent === list ? "li" : "div", parent, { kind: "labcore-control" });
      make("span", line, { text: item.words });
      for (const [words, act] of actions) {
        const made = make("button", line, { text: words, kind: "labcore-button", label: `${words}: ${item.words}` });
        made.addEventListener("click", () => act(item));
      }
    }
  };
  const showTakes = () => lines(list, model.get("takes"), [
    ["look at it", ({ name }) => ask({ kind: "choose", name })],
    ["delete", ({ name, words }) => { if (window.confirm(`Delete the take of ${words}?`)) ask({ kind: "forget", name }); }],
  ]);
  // What this page still has whole is offered to be sent again, not as the piece that arrived.
  const showBroken = () => lines(broken, model.get("unfinished").filter((item) => !unsent.has(item.take)), [
    ["open what arrived", ({ take: id }) => ask({ kind: "open", take: id })],
    ["throw it away", ({ take: id }) => ask({ kind: "drop", take: id })],
  ]);

  const startOrStop = () => (take ? finish() : begin({ purpose: "take", bars: model.get("bars") }));
  go.addEventListener("click", startOrStop);
  free.addEventListener("click", () => begin({ purpose: "take" }));
  measure.addEventListener("click", () => begin({ purpose: "delay" }));
  shut.addEventListener("click", close);
  again.addEventListener("click", sendAgain);
  input.addEventListener("change", () => open(input.value));
  root.addEventListener("keydown", (event) => {
    event.stopPropagation(); // JupyterLab would take single keys for its own
    if (event.key !== " " || event.repeat || event.target !== root) return;
    event.preventDefault();
    startOrStop();
  });

  model.on("msg:custom", obey);
  model.on("change:takes", showTakes);
  model.on("change:unfinished", showBroken);
  showTakes();
  showBroken();
  mark();
  send({ kind: "hello" });
  const later = setTimeout(() => send({ kind: "hello" }), 5000); // what broke off a moment ago
  if (unsent.size) { say("A take on this page did not arrive yet.", true); again.hidden = false; }

  return () => {
    isGone = true;
    if (take) finish();
    clearTimeout(later);
    clearTimeout(waiting);
    clearTimeout(unheard);
    card.close();
    cancelAnimationFrame(asked);
    model.off("msg:custom", obey);
    model.off("change:takes", showTakes);
    model.off("change:unfinished", showBroken);
  };
}

export default { render };
