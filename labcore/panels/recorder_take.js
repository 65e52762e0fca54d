// A take while it is played: cut into parts, sent to Python, and kept here until all has arrived.

const PART_S = 1; // of sound in a part; a part stays under 1 MiB at any rate

class Recording {
  constructor({ told, rate, startFrame, frames, clickTimes, send }) {
    Object.assign(this, { told, rate, startFrame, frames, clickTimes, send });
    this.id = crypto.randomUUID();
    this.parts = [];
    this.pending = [];
    this.pendingFirst = 0;
    this.pendingFrames = 0;
    this.reached = 0;
    this.samples = 0;
    this.start();
  }

  // Everything again, for a Python that was started anew while the page went on.
  start() { this.send({ kind: "start", take: this.id, rate_hz: this.rate, ...this.told }); }

  // Clicks so far, in seconds of the recording.
  get click_s() {
    const start = this.startFrame / this.rate;
    return this.clickTimes(start + Math.max(0, this.seconds)).map((time) => time - start);
  }

  get isFull() { return this.reached >= this.frames; }
  get seconds() { return this.reached / this.rate; }

  add({ first, samples }) {
    const from = Math.max(first, this.startFrame);
    const to = Math.min(first + samples.length, this.startFrame + this.frames);
    this.reached = Math.max(this.reached, Math.min(first + samples.length - this.startFrame, this.frames));
    if (to <= from) return;
    const place = from - this.startFrame;
    if (this.pendingFrames && place !== this.pendingFirst + this.pendingFrames) this.flush();
    if (!this.pendingFrames) this.pendingFirst = place;
    this.pending.push(samples.subarray(from - first, to - first));
    this.pendingFrames += to - from;
    if (this.pendingFrames >= PART_S * this.rate) this.flush();
  }

  flush() {
    if (!this.pendingFrames) return;
    const whole = new Float32Array(this.pendingFrames);
    let at = 0;
    for (const piece of this.pending) { whole.set(piece, at); at += piece.length; }
    this.parts.push({ first: this.pendingFirst, samples: whole });
    this.samples += whole.length;
    this.pending = [];
    this.pendingFrames = 0;
    this.sendPart(this.parts.length - 1);
  }

  sendPart(number) {
    const { first, samples } = this.parts[number];
    this.send({ kind: "part", take: this.id, number, first, click_s: this.click_s }, [samples.buffer.slice(0)]);
  }

  end({ isLastTry = false } = {}) {
    this.flush();
    this.send({
      kind: "end", take: this.id, parts: this.parts.length, samples: this.samples,
      frames: Math.max(0, this.reached), click_s: this.click_s, is_last_try: isLastTry,
    });
  }

  sendAll() {
    this.start();
    this.parts.forEach((_, number) => this.sendPart(number));
    this.end();
  }
}
