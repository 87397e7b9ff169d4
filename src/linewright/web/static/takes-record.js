// Recording: the microphone on the clock of what is played, and every piece sent as it comes, so
// that a tab that dies loses at most the last second. Knows nothing of the page.

import { codedKind } from "./takes-coded.js";

const PIECE_S = 1;
const TRY_AGAIN_MS = 1500;
const UNKNOWN = 0xffffffff; // a length not known yet; readers then read to the end

// The head of a WAV file (RIFF, format 1) of one channel of 16-bit samples.
export function wavHead(rate, bytes = UNKNOWN) {
  const view = new DataView(new ArrayBuffer(44));
  const text = (at, word) => [...word].forEach((letter, i) => view.setUint8(at + i, letter.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, Math.min(UNKNOWN, bytes + 36), true);
  text(8, "WAVEfmt ");
  [[16, 16, 4], [20, 1, 2], [22, 1, 2], [24, rate, 4], [28, 2 * rate, 4], [32, 2, 2], [34, 16, 2]].forEach(([at, value, size]) =>
    size === 4 ? view.setUint32(at, value, true) : view.setUint16(at, value, true),
  );
  text(36, "data");
  view.setUint32(40, bytes, true);
  return new Uint8Array(view.buffer);
}

// Why there is no microphone, in words.
export function refusal(error) {
  if (!isSecureContext) return "A browser opens the microphone only for a page of this computer or one that comes by https. Open the library by the address the serve command showed.";
  const words = {
    NotAllowedError: "The browser does not let this page use the microphone. Allow it beside the address, then try again.",
    NotFoundError: "No microphone was found. Connect one, then try again.",
    NotReadableError: "The microphone cannot be opened; another program may be using it.",
  };
  return words[error?.name] || `There is no sound from the microphone: ${error?.message || "this browser cannot record"}`;
}

// Whether the page itself gets the samples; else the browser has to code them.
export const givesSamples = () => Boolean(globalThis.AudioWorkletNode);

// The microphone as it is: nothing taken out, nothing made louder.
export function microphone() {
  if (!navigator.mediaDevices?.getUserMedia || !(givesSamples() || codedKind())) return Promise.reject(new Error("this browser cannot record"));
  const audio = { channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: false };
  return navigator.mediaDevices.getUserMedia({ audio });
}

// Samples of a stream from now on. `first` is the moment of the audio clock the first one fell on.
export class Recorder {
  constructor(ctx, stream, onblock) {
    this.ctx = ctx;
    this.stream = stream;
    this.onblock = onblock;
    this.first = null;
    this.count = 0;
  }

  async start() {
    await this.ctx.audioWorklet.addModule("/static/takes-worklet.js");
    this.source = this.ctx.createMediaStreamSource(this.stream);
    const form = { numberOfInputs: 1, numberOfOutputs: 1, channelCount: 1, channelCountMode: "explicit" };
    this.node = new AudioWorkletNode(this.ctx, "take-recorder", form);
    const begun = new Promise((done) => (this.begun = done));
    this.stopped = new Promise((done) => (this.ended = done));
    this.node.port.onmessage = ({ data }) => this.take(data);
    this.source.connect(this.node);
    this.silent = this.ctx.createGain();
    this.silent.gain.value = 0;
    this.node.connect(this.silent).connect(this.ctx.destination); // what is connected is pulled
    this.stream.getAudioTracks()[0].addEventListener("ended", () => this.onlost?.());
    await begun;
  }

  take(data) {
    if (data.stopped) {
      this.ended();
      return;
    }
    if (this.first === null) {
      this.first = data.first / this.ctx.sampleRate;
      this.begun();
    }
    this.count += data.samples.length;
    this.onblock(data);
  }

  get seconds() {
    return this.count / this.ctx.sampleRate;
  }

  async stop() {
    this.node.port.postMessage("stop");
    await Promise.race([this.stopped, new Promise((done) => setTimeout(done, 1000))]);
    this.source.disconnect();
    this.node.disconnect();
    this.silent.disconnect();
    for (const track of this.stream.getTracks()) track.stop();
  }
}

export async function asked(address, options) {
  const answer = await fetch(address, options);
  const told = await answer.json().catch(() => ({}));
  if (answer.ok) return told;
  const said = told.error || told;
  const error = new Error([said.message || answer.statusText, said.accepted].filter(Boolean).join(". "));
  error.final = answer.status >= 400 && answer.status < 500;
  throw error;
}

export const told = (address, body) =>
  asked(address, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });

// Sends a recording piece by piece, samples at a rate or what the browser coded; a piece that did not arrive is sent again.
export class Sender {
  constructor(addresses, rate = null) {
    this.addresses = addresses;
    this.least = rate === null ? 1 : 2 * rate * PIECE_S; // samples, or pieces as they come
    this.waiting = rate === null ? [] : [wavHead(rate)];
    this.held = 0;
    this.sent = 0;
    this.onstate = () => {};
  }

  add(piece) {
    this.waiting.push(piece);
    this.held += piece.size ?? piece.byteLength;
    if (this.held >= this.least) this.send().catch(() => {});
  }

  // Send what there is; while that goes on, what is added waits for the next time.
  send() {
    this.going = (this.going || Promise.resolve()).then(() => this.sendOne());
    return this.going;
  }

  async sendOne() {
    if (this.broken) throw this.broken;
    if (!this.waiting.length) return;
    const piece = new Blob(this.waiting.splice(0));
    this.held = 0;
    for (;;) {
      try {
        await asked(this.addresses.piece(this.sent), { method: "PUT", headers: { "content-type": "application/octet-stream" }, body: piece });
        this.sent += piece.size;
        this.onstate(null);
        return;
      } catch (error) {
        if (error.final || this.given) {
          this.broken = error;
          throw error;
        }
        this.onstate(error);
        await new Promise((done) => setTimeout(done, TRY_AGAIN_MS));
      }
    }
  }

  giveUp() {
    this.given = true;
  }
}
