// Plays a take and tells the page, at the screen's rate, where it is. Pictures listen to that. One
// sound at a time: what else plays on the page stops, and this stops for another or for a recording.

function button(words, parent) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "labcore-button";
  made.textContent = words;
  parent.append(made);
  return made;
}

function clock(seconds) {
  return Number.isFinite(seconds) ? seconds.toFixed(1) : "0.0";
}

function alike(one, other) {
  if (one.byteLength !== other.byteLength) return false;
  const [a, b] = [one, other].map((view) => new Uint8Array(view.buffer, view.byteOffset, view.byteLength));
  return a.every((byte, k) => byte === b[k]);
}

function render({ model, el }) {
  const bar = document.createElement("div");
  bar.className = "labcore-control labcore-player";
  bar.setAttribute("role", "group");
  bar.setAttribute("aria-label", "listen to the take");
  el.append(bar);
  const audio = new Audio();
  audio.preservesPitch = true;
  const choices = document.createElement("span");
  choices.className = "labcore-plays";
  const slow = document.createElement("span");
  const place = document.createElement("input");
  place.type = "range";
  place.min = "0";
  place.step = "0.05";
  place.setAttribute("aria-label", "place in the take, in seconds");
  const told = document.createElement("span");
  told.className = "labcore-unit";
  const round = document.createElement("select");
  round.className = "labcore-button";
  round.setAttribute("aria-label", "what to play");
  const where = document.createElement("span");
  where.className = "labcore-where";
  where.append(place, told);
  bar.append(choices, round, slow, where);
  const half = button("half speed", slow);
  half.setAttribute("aria-pressed", "false");

  let sounds = [];
  let urls = [];
  let current = 0;
  let ask = 0;
  let held = null; // [start, end] in seconds of what is played round and round

  const tellPage = () => {
    place.max = String(audio.duration || 0);
    place.value = String(audio.currentTime);
    place.setAttribute("aria-valuetext", `${clock(audio.currentTime)} seconds`);
    told.textContent = `${clock(audio.currentTime)} of ${clock(audio.duration)} s`;
    const detail = { player: model.get("voice"), time_s: audio.currentTime };
    window.dispatchEvent(new CustomEvent("labcore:time", { detail }));
  };
  const go = (time_s) => {
    audio.currentTime = Math.max(0, Math.min(time_s, audio.duration || 0));
    tellPage();
  };
  const run = () => {
    if (held && audio.currentTime >= held[1]) audio.currentTime = held[0];
    tellPage();
    if (!audio.paused) ask = requestAnimationFrame(run);
  };
  const mark = () => {
    [...choices.children].forEach((b, k) => {
      const playing = k === current && !audio.paused;
      b.textContent = playing ? "stop" : model.get("labels")[k];
      b.setAttribute("aria-pressed", String(playing));
    });
  };
  const play = (k) => {
    if (k === current && !audio.paused) return audio.pause();
    if (k !== current || !audio.src) {
      const time_s = audio.currentTime;
      current = k;
      audio.src = urls[k];
      audio.currentTime = time_s;
    }
    audio.playbackRate = half.getAttribute("aria-pressed") === "true" ? 0.5 : 1;
    if (held && (audio.currentTime < held[0] || audio.currentTime >= held[1])) audio.currentTime = held[0];
    window.dispatchEvent(new CustomEvent("labcore:quiet", { detail: { player: model.get("voice") } }));
    audio.play();
  };

  const load = () => { // a sound that is still among the new ones plays on
    const before = sounds[current];
    sounds = model.get("sounds");
    const stays = before ? sounds.findIndex((bytes) => alike(bytes, before)) : -1;
    const url = urls[current];
    if (stays < 0) audio.pause();
    urls.filter((old) => stays < 0 || old !== url).forEach((old) => URL.revokeObjectURL(old));
    urls = sounds.map((bytes, k) => (k === stays ? url : URL.createObjectURL(new Blob([bytes], { type: "audio/wav" }))));
    current = Math.max(stays, 0);
    if (stays < 0 && urls.length) audio.src = urls[0];
    choices.replaceChildren();
    model.get("labels").forEach((label, k) => button(label, choices).addEventListener("click", () => play(k)));
    mark();
  };
  const offer = () => {
    const before = round.value;
    round.replaceChildren(new Option("the whole take", ""));
    model.get("stretch_labels").forEach((label, k) => round.add(new Option(`${label}, over and over`, String(k))));
    round.value = model.get("stretch_labels")[Number(before)] ? before : "";
    hold();
  };
  const hold = () => { held = round.value === "" ? null : model.get("stretch_s")[Number(round.value)]; };

  audio.addEventListener("play", () => { mark(); cancelAnimationFrame(ask); run(); });
  audio.addEventListener("pause", mark);
  audio.addEventListener("ended", mark);
  audio.addEventListener("loadedmetadata", tellPage);
  half.addEventListener("click", () => {
    const slower = half.getAttribute("aria-pressed") !== "true";
    half.setAttribute("aria-pressed", String(slower));
    audio.playbackRate = slower ? 0.5 : 1;
  });
  place.addEventListener("input", () => go(Number(place.value)));
  round.addEventListener("change", () => { hold(); if (held) go(held[0]); });
  bar.addEventListener("keydown", (event) => event.stopPropagation());
  const seek = (event) => { if (event.detail.player === model.get("voice")) go(event.detail.time_s); };
  const quiet = (event) => { if (event.detail.player !== model.get("voice")) audio.pause(); };
  window.addEventListener("labcore:seek", seek);
  window.addEventListener("labcore:quiet", quiet);
  const obey = (message) => { if (Number.isInteger(message.play)) play(message.play); };
  model.on("change:sounds", load);
  model.on("msg:custom", obey);
  model.on("change:stretch_s", offer);
  load();
  offer();

  return () => {
    audio.pause();
    cancelAnimationFrame(ask);
    urls.forEach((url) => URL.revokeObjectURL(url));
    window.removeEventListener("labcore:seek", seek);
    window.removeEventListener("labcore:quiet", quiet);
    model.off("change:sounds", load);
    model.off("msg:custom", obey);
    model.off("change:stretch_s", offer);
  };
}

export default { render };
