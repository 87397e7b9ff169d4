// Recording where a page gets no samples (no AudioWorklet): the browser codes the sound itself and
// hands it over in pieces of a second, which together are one file, whole up to the last piece. When
// its first sample fell is known to some hundredths of a second only.

const PIECE_MS = 1000;
const LEVEL_MS = 80;
const BEGIN_MS = 5000;
// Containers that are whole when they break off anywhere.
const KINDS = [
  ["audio/webm;codecs=opus", "webm"],
  ["audio/ogg;codecs=opus", "ogg"],
  ["audio/webm", "webm"],
  ["audio/ogg", "ogg"],
];

export function codedKind() {
  if (!globalThis.MediaRecorder?.isTypeSupported) return null;
  return KINDS.find(([type]) => MediaRecorder.isTypeSupported(type)) || null;
}

export class CodedRecorder {
  constructor(ctx, stream, onpiece, onlevel) {
    Object.assign(this, { ctx, stream, onpiece, onlevel, first: null });
  }

  get form() {
    return codedKind()[1];
  }

  async start() {
    const recorder = new MediaRecorder(this.stream, { mimeType: codedKind()[0], audioBitsPerSecond: 128000 });
    this.node = recorder;
    recorder.addEventListener("dataavailable", ({ data }) => data.size && this.onpiece(data));
    this.stopped = new Promise((done) => recorder.addEventListener("stop", done));
    this.stream.getAudioTracks()[0].addEventListener("ended", () => this.onlost?.());
    await new Promise((done, failed) => {
      recorder.addEventListener("start", done, { once: true });
      recorder.addEventListener("error", ({ error }) => failed(error || new Error("this browser cannot record")), { once: true });
      setTimeout(() => failed(new Error("this browser did not begin to record")), BEGIN_MS);
      recorder.start(PIECE_MS);
    });
    this.first = this.ctx.currentTime;
    recorder.addEventListener("error", () => this.onlost?.());
    this.source = this.ctx.createMediaStreamSource(this.stream);
    this.meter = new AnalyserNode(this.ctx, { fftSize: 4096 });
    this.source.connect(this.meter);
    const samples = new Float32Array(this.meter.fftSize);
    this.timer = setInterval(() => {
      this.meter.getFloatTimeDomainData(samples);
      const sizes = samples.map(Math.abs);
      this.onlevel({ loudest: Math.max(...sizes), clipped: sizes.filter((size) => size >= 0.999).length });
    }, LEVEL_MS);
  }

  get seconds() {
    return this.first === null ? 0 : this.ctx.currentTime - this.first;
  }

  async stop() {
    clearInterval(this.timer);
    if (this.node.state !== "inactive") this.node.stop(); // its last piece comes before it says so
    await Promise.race([this.stopped, new Promise((done) => setTimeout(done, 2000))]);
    this.source?.disconnect();
    for (const track of this.stream.getTracks()) track.stop();
  }
}
