// A rough line of the pitch of the last seconds, drawn while one plays, with the clicks moving
// under it. It reads the same blocks as the recording, changes none, and stands back when the
// page is busy. The exact line comes after the take, from Python.

const LINE = {
  seconds: 4,
  rate: 11025, // read at about this rate
  window: 440, // 40 ms
  low_hz: 75,
  high_hz: 1000,
  clear: 0.85, // how alike two neighbouring periods must be
  first: 0.9, // the first peak this near the best one is the period, not its double
  least_level: 0.003,
  behind_s: 0.15, // further behind than this, points are left out
  above_cents: 160,
  below_cents: 110,
};

class RoughLine {
  constructor(canvas) {
    this.canvas = canvas;
    this.clear();
  }

  clear() {
    this.ring = new Float32Array(0);
    this.points = []; // { time, hz }, hz null where nothing is clear
    this.sum = 0;
    this.summed = 0;
    this.next = null;
  }

  // A block of the stream; `now` is the time on the clock of the sound card.
  add({ first, samples }, { rate, now }) {
    const step = Math.max(1, Math.round(rate / LINE.rate));
    if (this.next !== null && first !== this.next) { this.ring = new Float32Array(0); this.summed = 0; this.sum = 0; }
    this.next = first + samples.length;
    const fresh = [];
    for (const x of samples) {
      this.sum += x;
      this.summed += 1;
      if (this.summed === step) { fresh.push(this.sum / step); this.sum = 0; this.summed = 0; }
    }
    const longest = LINE.window + Math.ceil(LINE.rate / LINE.low_hz) + 4;
    const joined = new Float32Array(this.ring.length + fresh.length);
    joined.set(this.ring);
    joined.set(fresh, this.ring.length);
    this.ring = joined.slice(-longest);
    const end = this.next / rate;
    if (this.ring.length < longest || now - end > LINE.behind_s) return;
    const time = end - longest / 2 / (rate / step);
    this.points.push({ time, hz: this.pitch(rate / step) });
    while (this.points[0].time < time - LINE.seconds) this.points.shift();
  }

  // Normalised autocorrelation: the first lag at which the sound is nearly as alike as at the best.
  pitch(rate) {
    const x = this.ring;
    const last = Math.min(x.length - LINE.window - 1, Math.ceil(rate / LINE.low_hz));
    const alike = new Float32Array(last + 1);
    let here = 0;
    for (let k = 0; k < LINE.window; k += 1) here += x[k] * x[k];
    if (here / LINE.window < LINE.least_level ** 2) return null;
    let there = here;
    for (let lag = 1; lag <= last; lag += 1) {
      there += x[lag + LINE.window - 1] ** 2 - x[lag - 1] ** 2;
      let both = 0;
      for (let k = 0; k < LINE.window; k += 1) both += x[k] * x[k + lag];
      alike[lag] = (2 * both) / (here + there + 1e-12);
    }
    const peaks = [];
    let fell = false; // the first peak is at no lag at all
    for (let lag = Math.floor(rate / LINE.high_hz); lag < last; lag += 1) {
      if (alike[lag] < 0.5) fell = true;
      if (fell && alike[lag] > alike[lag - 1] && alike[lag] >= alike[lag + 1]) peaks.push(lag);
    }
    const best = Math.max(...peaks.map((lag) => alike[lag]), 0);
    if (best < LINE.clear) return null;
    const lag = peaks.find((p) => alike[p] >= LINE.first * best);
    const [a, b, c] = [alike[lag - 1], alike[lag], alike[lag + 1]];
    const bend = a - 2 * b + c;
    return rate / (lag + (bend < 0 ? (0.5 * (a - c)) / bend : 0));
  }

  // `grid` is a list of { time, strong }.
  draw(now, grid) {
    const { canvas } = this;
    const ink = canvas.getContext("2d");
    const { width, height } = canvas;
    const heard = this.points.filter((p) => p.hz !== null);
    const last = heard.at(-1);
    canvas.dataset.hz = last ? last.hz.toFixed(1) : "";
    canvas.dataset.behindMs = this.points.length ? (1000 * (now - this.points.at(-1).time)).toFixed(0) : "";
    ink.clearRect(0, 0, width, height);
    const x = (time) => width * (1 + (time - now) / LINE.seconds);
    const y = (cents) => height * ((LINE.above_cents - cents) / (LINE.above_cents + LINE.below_cents));
    for (const { time, strong } of grid) {
      ink.strokeStyle = strong ? "#8a949a" : "#c9cfd2";
      ink.setLineDash(strong ? [] : [3, 4]);
      ink.beginPath();
      ink.moveTo(x(time), 0);
      ink.lineTo(x(time), height);
      ink.stroke();
    }
    ink.setLineDash([]);
    if (!heard.length) return;
    // The lower edge of what was played stands for the plain note: a bend goes up from it.
    const sorted = heard.map((p) => p.hz).sort((a, b) => a - b);
    const plain = sorted[Math.floor(0.15 * sorted.length)];
    ink.strokeStyle = "#22282c";
    ink.beginPath();
    ink.moveTo(0, y(0));
    ink.lineTo(width, y(0));
    ink.stroke();
    ink.strokeStyle = "#0072b2";
    ink.lineWidth = 2.5;
    ink.beginPath();
    let down = false;
    for (const { time, hz } of this.points) {
      if (hz === null) { down = false; continue; }
      const at = [x(time), y(1200 * Math.log2(hz / plain))];
      if (down) ink.lineTo(...at);
      else ink.moveTo(...at);
      down = true;
    }
    ink.stroke();
    ink.lineWidth = 1;
  }
}
