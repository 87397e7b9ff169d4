// What the microphone gives, as 16-bit samples, each block with the frame of the audio clock its
// first sample fell on. A gap is filled with silence, so that time in the recording never slips.

const BLOCK = 4096;

class TakeRecorder extends AudioWorkletProcessor {
  constructor() {
    super();
    this.begin();
    this.on = true;
    this.port.onmessage = ({ data }) => {
      if (data === "stop") {
        this.flush();
        this.on = false;
        this.port.postMessage({ stopped: true });
      }
    };
  }

  begin() {
    this.samples = new Int16Array(BLOCK);
    this.count = 0;
    this.loudest = 0;
    this.clipped = 0;
  }

  flush() {
    if (!this.count) return;
    const samples = this.samples.slice(0, this.count);
    const { first, loudest, clipped } = this;
    this.port.postMessage({ first, samples, loudest, clipped }, [samples.buffer]);
    this.begin();
  }

  add(value) {
    if (!this.count) this.first = this.next;
    const size = Math.abs(value);
    if (size > this.loudest) this.loudest = size;
    if (size >= 0.999) this.clipped += 1;
    this.samples[this.count++] = Math.max(-32768, Math.min(32767, Math.round(value * 32767)));
    this.next += 1;
    if (this.count === BLOCK) this.flush();
  }

  process([input]) {
    if (!this.on) return false;
    const sound = input[0];
    if (!sound) return true;
    if (this.next === undefined) this.next = currentFrame;
    while (this.next < currentFrame) this.add(0);
    for (let i = 0; i < sound.length; i++) this.add(sound[i]);
    return true;
  }
}

registerProcessor("take-recorder", TakeRecorder);
