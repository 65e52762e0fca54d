// The sound card: the microphone opened as it is, clicks set on the clock of the card, the level.

const CLICK = { accent_hz: 1480, beat_hz: 990, between_hz: 990, decay_s: 0.006, length_s: 0.03 };

// Levels in dB of full scale, of 50 ms of sound; project choices.
const FLOOR_DB = -60;
const QUIET_DB = -38;
const LOUD_PEAK = 0.9;
const HOLD_S = 1.5;

const REFUSED = "The page may not use the microphone. Press the sign beside the address above, allow the microphone, and try again.";
const NONE = "No microphone was found. Plug one in, or switch it on in the sound settings, and try again.";
const BUSY = "The microphone does not answer. Close other programs that use it, and try again.";
const INSECURE = "A page may only record when it is opened on this computer (an address with localhost or 127.0.0.1) or over https. Open the lessons on the computer you play at.";

function sentenceFor(error) {
  if (error.sentence) return error.sentence;
  if (["NotAllowedError", "SecurityError"].includes(error.name)) return REFUSED;
  if (["NotFoundError", "OverconstrainedError"].includes(error.name)) return NONE;
  if (["NotReadableError", "AbortError"].includes(error.name)) return BUSY;
  return `The sound of this page could not be started (${error.message}). Reload the page and try again.`;
}

class SoundCard {
  constructor({ listener, onBlock, onGone }) {
    this.listener = listener;
    this.onBlock = onBlock;
    this.onGone = onGone;
    this.context = null;
  }

  get isOpen() { return this.context !== null; }
  get rate() { return this.context.sampleRate; }

  async open(deviceId) {
    await this.close();
    if (!window.isSecureContext || !navigator.mediaDevices || !window.AudioWorkletNode) throw { sentence: INSECURE };
    const context = new AudioContext({ latencyHint: "interactive" });
    try {
      context.resume();
      this.stream = await navigator.mediaDevices.getUserMedia({
        audio: {
          echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: { ideal: 2 },
          ...(deviceId ? { deviceId: { exact: deviceId } } : {}),
        },
      });
      const url = URL.createObjectURL(new Blob([this.listener], { type: "text/javascript" }));
      await context.audioWorklet.addModule(url);
      URL.revokeObjectURL(url);
    } catch (error) {
      this.stream?.getTracks().forEach((track) => track.stop());
      context.close();
      throw error;
    }
    this.context = context;
    [this.track] = this.stream.getAudioTracks();
    this.track.addEventListener("ended", () => this.onGone());
    this.node = new AudioWorkletNode(context, "labcore-listener", { numberOfOutputs: 0 });
    this.node.port.onmessage = ({ data }) => this.onBlock(data);
    this.source = context.createMediaStreamSource(this.stream);
    this.source.connect(this.node);
    this.inputs = await navigator.mediaDevices.enumerateDevices();
  }

  async close() {
    const { context } = this;
    this.context = null;
    this.node?.port.close();
    this.source?.disconnect();
    this.stream?.getTracks().forEach((track) => track.stop());
    if (context && context.state !== "closed") await context.close();
  }

  // Everything that decides whether a measured delay still holds, and whether the sound is as it came.
  get told() {
    const set = this.track.getSettings();
    const output = this.inputs.find((d) => d.kind === "audiooutput" && d.deviceId === "default");
    return {
      label: this.track.label,
      output_label: output?.label ?? "",
      track_rate_hz: set.sampleRate ?? null,
      echo_cancellation: set.echoCancellation ?? null,
      noise_suppression: set.noiseSuppression ?? null,
      gain_control: set.autoGainControl ?? null,
      output_delay_s: this.context.outputLatency || this.context.baseLatency || null,
    };
  }

  play(samples, { at, loudness }) {
    const buffer = this.context.createBuffer(1, samples.length, this.rate);
    buffer.copyToChannel(samples, 0);
    const source = new AudioBufferSourceNode(this.context, { buffer });
    const gain = new GainNode(this.context, { gain: loudness });
    source.connect(gain);
    gain.connect(this.context.destination);
    source.start(at);
    return source;
  }
}

function tick(rate, hz) {
  const samples = new Float32Array(Math.round(CLICK.length_s * rate));
  return samples.map((_, k) => Math.sin((2 * Math.PI * hz * k) / rate) * Math.exp(-k / rate / CLICK.decay_s));
}

function sweep(rate, { low_hz, high_hz, length_s }) {
  const samples = new Float32Array(Math.round(length_s * rate));
  const rise = (high_hz - low_hz) / length_s;
  return samples.map((_, k) => {
    const t = k / rate;
    return Math.sin(2 * Math.PI * (low_hz * t + 0.5 * rise * t * t)) * Math.sin((Math.PI * t) / length_s) ** 2;
  });
}

// Clicks one after another from `start`, set a little ahead of their time.
class Clicks {
  constructor(card, { start, every_s, count, sounds }) {
    Object.assign(this, { card, start, every_s, count, sounds });
    this.next = 0;
    this.playing = new Set();
  }

  time(k) { return this.start + k * this.every_s; }

  setUntil(time) {
    while (this.next < this.count && this.time(this.next) < time) {
      const sound = this.sounds(this.next);
      const at = this.time(this.next);
      if (sound && sound.loudness > 0) this.play(sound, at);
      this.next += 1;
    }
  }

  play({ samples, loudness }, at) {
    const source = this.card.play(samples, { at, loudness });
    this.playing.add(source);
    source.addEventListener("ended", () => this.playing.delete(source));
  }

  stop() {
    this.count = 0;
    for (const source of this.playing) source.stop();
  }
}

class Level {
  constructor() { this.recent = []; }

  add({ samples, peak }, time) {
    let power = 0;
    for (const x of samples) power += x * x;
    const db = 10 * Math.log10(power / samples.length + 1e-9);
    this.recent.push({ time, db, peak });
    while (this.recent[0].time < time - HOLD_S) this.recent.shift();
  }

  // The level now as a share of the meter, and what the last moments were.
  get told() {
    const last = this.recent.at(-1);
    if (!last) return { share: 0, words: "", sign: "" };
    const share = Math.max(0, Math.min(1, 1 - last.db / FLOOR_DB));
    if (this.recent.some((r) => r.peak >= LOUD_PEAK)) return { share, words: "too loud: turn it down or move away", sign: "▲" };
    if (Math.max(...this.recent.map((r) => r.db)) < QUIET_DB) return { share, words: "too quiet: play, turn it up or come nearer", sign: "▽" };
    return { share, words: "good", sign: "✓" };
  }
}
