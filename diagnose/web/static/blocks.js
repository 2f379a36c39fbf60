// Hands the sound of the microphone on in blocks, as it is: no codec between the clock and the figures.
"use strict";

class Blocks extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(4096);
    this.filled = 0;
  }

  process(inputs) {
    const channel = inputs[0][0];
    if (!channel) return true;
    for (const sample of channel) {
      this.block[this.filled++] = sample;
      if (this.filled === this.block.length) {
        this.port.postMessage(this.block);
        this.block = new Float32Array(this.block.length);
        this.filled = 0;
      }
    }
    return true;
  }
}
registerProcessor("blocks", Blocks);
