// Runs on the sound thread: hands the input on in small blocks, each with the number of its first
// frame on the clock of the sound card. Where that clock jumps, a new block begins, so that the
// page can see how much is missing.

const BLOCK_FRAMES = 1024; // about 21 ms: the level and the rough line follow at once

class Listener extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(BLOCK_FRAMES);
    this.filled = 0;
    this.first = 0;
    this.peak = 0; // of any channel, before they are mixed
  }

  flush() {
    if (!this.filled) return;
    const samples = this.block.slice(0, this.filled);
    this.port.postMessage({ first: this.first, samples, peak: this.peak }, [samples.buffer]);
    this.filled = 0;
    this.peak = 0;
  }

  process(inputs) {
    const channels = inputs[0];
    if (!channels.length) return true;
    if (this.filled && currentFrame !== this.first + this.filled) this.flush();
    if (!this.filled) this.first = currentFrame;
    const { length } = channels[0];
    for (let k = 0; k < length; k += 1) {
      let sum = 0; // an instrument may be plugged into either side
      for (const channel of channels) {
        sum += channel[k];
        this.peak = Math.max(this.peak, Math.abs(channel[k]));
      }
      this.block[this.filled + k] = sum / channels.length;
    }
    this.filled += length;
    if (this.filled + length > BLOCK_FRAMES) this.flush();
    return true;
  }
}

registerProcessor("labcore-listener", Listener);
