// Takes a dropped or chosen file to Python in parts. What Python's readers do not know is decoded
// here, by the browser, and sent as 16-bit WAV.

const READ_BY_PYTHON = /\.(wav|wave|flac|ogg|oga|mp3|aif|aiff|aifc)$/i;
const DECODE_RATE = 48000;

function wavOf(decoded) {
  const channels = decoded.numberOfChannels;
  const frames = decoded.length;
  const view = new DataView(new ArrayBuffer(44 + frames * channels * 2));
  const text = (at, words) => [...words].forEach((c, k) => view.setUint8(at + k, c.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, 36 + frames * channels * 2, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, channels, true);
  view.setUint32(24, decoded.sampleRate, true);
  view.setUint32(28, decoded.sampleRate * channels * 2, true);
  view.setUint16(32, channels * 2, true);
  view.setUint16(34, 16, true);
  text(36, "data");
  view.setUint32(40, frames * channels * 2, true);
  for (let c = 0; c < channels; c += 1) {
    const samples = decoded.getChannelData(c);
    for (let k = 0; k < frames; k += 1) {
      const value = Math.max(-1, Math.min(1, samples[k]));
      view.setInt16(44 + 2 * (k * channels + c), Math.round(value * 32767), true);
    }
  }
  return view.buffer;
}

async function bytesFor(file) {
  const bytes = await file.arrayBuffer();
  if (READ_BY_PYTHON.test(file.name)) return bytes;
  try {
    const context = new OfflineAudioContext(1, 1, DECODE_RATE);
    return wavOf(await context.decodeAudioData(bytes.slice(0)));
  } catch {
    return bytes; // Python will say what is wrong with it
  }
}

function render({ model, el }) {
  const zone = document.createElement("label");
  zone.className = "labcore-drop";
  const words = document.createElement("span");
  const input = document.createElement("input");
  input.type = "file";
  input.className = "labcore-unseen"; // the words and the frame stand for it; the keyboard finds it
  zone.append(words, input);
  el.append(zone);
  const show = () => {
    words.textContent = model.get("label");
    input.setAttribute("aria-label", model.get("label"));
  };

  const send = async (file) => {
    if (file.size > model.get("most_bytes")) {
      const size = Math.round(file.size / 1048576);
      const most = Math.round(model.get("most_bytes") / 1048576);
      const sentence = `“${file.name}” has ${size} MB; at most ${most} MB can be dropped here. Give its path in the box instead, or cut out the part you want to hear.`;
      model.send({ kind: "problem", sentence });
      return;
    }
    words.textContent = `${file.name} is on its way`;
    try {
      const bytes = await bytesFor(file);
      const step = model.get("part_bytes");
      model.send({ kind: "start", name: file.name, bytes: bytes.byteLength });
      for (let at = 0; at < bytes.byteLength; at += step) {
        model.send({ kind: "part" }, undefined, [bytes.slice(at, at + step)]);
      }
      model.send({ kind: "end" });
    } catch (error) {
      model.send({ kind: "problem", sentence: `“${file.name}” could not be read by the page (${error.message}). Choose it again.` });
    }
    input.value = "";
    show();
  };

  const stop = (event) => { event.preventDefault(); event.stopPropagation(); };
  zone.addEventListener("dragover", (event) => { stop(event); zone.classList.add("labcore-over"); });
  zone.addEventListener("dragleave", () => zone.classList.remove("labcore-over"));
  zone.addEventListener("drop", (event) => {
    stop(event);
    zone.classList.remove("labcore-over");
    if (event.dataTransfer.files.length) send(event.dataTransfer.files[0]);
  });
  input.addEventListener("change", () => { if (input.files.length) send(input.files[0]); });
  zone.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change:label", show);
  show();
  return () => model.off("change:label", show);
}

export default { render };
