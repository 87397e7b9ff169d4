// Sound in time: bars of sound are fetched, laid end to end on the audio clock with their tails
// overlapping, and only a few are held at once. Knows nothing of the page.

const AHEAD = 1.2; // seconds laid out in advance
const LEAD = 0.04; // from asking to the first sample
const KEPT = 96; // bars of sound held for the next pass
const STEMS = ["lead", "band", "click"];

// A WAV of 16-bit samples as an AudioBuffer; simpler than decoding and needs no context.
export function wav(bytes) {
  const view = new DataView(bytes);
  let at = 12;
  let channels = 2;
  let rate = 44100;
  while (at + 8 <= view.byteLength) {
    const kind = view.getUint32(at);
    const size = view.getUint32(at + 4, true);
    if (kind === 0x666d7420) {
      channels = view.getUint16(at + 10, true);
      rate = view.getUint32(at + 12, true);
    } else if (kind === 0x64617461) {
      const samples = new Int16Array(bytes.slice(at + 8, at + 8 + size));
      const length = Math.max(1, samples.length / channels);
      const buffer = new AudioBuffer({ length, numberOfChannels: channels, sampleRate: rate });
      for (let c = 0; c < channels; c++) {
        const out = buffer.getChannelData(c);
        for (let i = 0, j = c; j < samples.length; i++, j += channels) out[i] = samples[j] / 32768;
      }
      return buffer;
    }
    at += 8 + size + (size % 2);
  }
  throw new Error("no sound in this file");
}

// Where in a piece the next bar lies: `bars` with start and length in quarters, `loop` as first
// and last index or null. Gives null past the end.
export function following(bars, index, pass, loop, turn) {
  const [first, last] = loop || [0, bars.length - 1];
  if (index < last) return { index: index + 1, pass, gap: 0 };
  if (!loop) return null;
  const whole = first === 0 && last === bars.length - 1;
  if (bars[first].number === 0 && !whole && last > first) return { index: 1, pass: pass + 1, gap: 0 };
  return { index: first, pass: pass + 1, gap: whole ? turn : 0 };
}

// The tempo of a pass, in percent.
export function rung(percent, ladder, pass) {
  if (!ladder) return percent;
  const climbed = percent + ladder.by * Math.floor(pass / ladder.every);
  return Math.max(percent, Math.min(climbed, Math.max(ladder.upTo, percent)));
}

export class Sound {
  // `piece` tells of bars and where their sound is; `settings` is shared with the page.
  constructor(piece, settings) {
    this.piece = piece;
    this.settings = settings;
    this.queue = [];
    this.place = { index: 0, quarter: null };
    this.playing = false;
    this.first = null; // milliseconds from asking to the first sound
    this.run = null;
    this.held = new Map();
    this.onend = () => {};
    this.onproblem = () => {};
  }

  // -- fetching -------------------------------------------------------------------------
  load(address) {
    if (!address) return Promise.resolve(null);
    const old = this.held.get(address);
    if (old) {
      this.held.delete(address);
      this.held.set(address, old);
      return old;
    }
    const made = fetch(address).then(async (answer) => {
      if (!answer.ok) throw new Error((await answer.json().catch(() => ({}))).message || answer.statusText);
      return wav(await answer.arrayBuffer());
    });
    made.catch(() => this.held.delete(address));
    this.held.set(address, made);
    const most = this.piece.endless ? 12 : KEPT;
    while (this.held.size > most) this.held.delete(this.held.keys().next().value);
    return made;
  }

  bar(index, percent) {
    const wanted = STEMS.map((stem) => this.load(this.piece.address(stem, index, percent, this.settings)));
    return Promise.all([this.piece.bar(index), ...wanted]);
  }

  // Have the first bars ready before they are asked for.
  prepare(index = this.place.index) {
    const first = this.bar(index, this.settings.percent).catch(() => {});
    return first.then(() => this.piece.endless || this.bar(Math.min(index + 1, this.piece.bars.length - 1), this.settings.percent).catch(() => {}));
  }

  // -- the clock ------------------------------------------------------------------------
  // `rate` as the bars have it; none where a microphone is on the same clock.
  open(rate = { sampleRate: 44100 }) {
    if (this.ctx) return;
    this.ctx = new AudioContext({ ...rate, latencyHint: "interactive" });
    this.out = this.ctx.createGain();
    // Bars are rendered with room to spare; brought up here, with peaks held under full scale.
    this.out.gain.value = 1.35;
    this.limit = new DynamicsCompressorNode(this.ctx, { threshold: -4, knee: 0, ratio: 20, attack: 0.002, release: 0.12 });
    this.out.connect(this.limit).connect(this.ctx.destination);
    this.gains = {};
    for (const stem of STEMS) {
      this.gains[stem] = this.ctx.createGain();
      this.gains[stem].connect(this.out);
    }
    this.level(true);
  }

  level(now = false) {
    if (!this.ctx) return;
    for (const stem of STEMS) {
      const value = stem === "lead" && this.settings.muted ? 0 : this.settings.levels[stem];
      const gain = this.gains[stem].gain;
      if (now) gain.value = value;
      else gain.setTargetAtTime(value, this.ctx.currentTime, 0.012);
    }
  }

  // The moment of the audio clock that leaves the speakers now.
  heard() {
    const ctx = this.ctx;
    if (!ctx) return 0;
    const ahead = 0.006; // the limiter looks that far ahead (Web Audio API 1.1, section 1.19)
    const stamp = ctx.getOutputTimestamp?.();
    const late = ctx.outputLatency || ctx.baseLatency || 0;
    if (!stamp || !stamp.performanceTime) return ctx.currentTime - late - ahead;
    const now = stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000;
    return Math.min(now, ctx.currentTime) - ahead;
  }

  // What is heard now: the bar and the moment in quarters; null while it is silent.
  position(at = this.heard()) {
    let found = null;
    for (const entry of this.queue) if (entry.t0 <= at + 1e-6) found = entry;
    if (!found) return null;
    const quarter = found.from + (at - found.t0) / found.quarter;
    return { ...found, nodes: undefined, at: Math.min(quarter, found.from + found.length), over: at >= found.t1 };
  }

  seconds(percent) {
    return 60 / (this.piece.bpm * (percent / 100));
  }

  // -- playing --------------------------------------------------------------------------
  async play() {
    const asked = performance.now();
    this.open();
    const waking = this.ctx.state === "running" ? null : this.ctx.resume();
    this.playing = true;
    const run = this.begin();
    this.played = 0;
    this.pass = 0;
    this.next = { index: this.place.index, pass: 0, gap: 0, from: this.place.quarter };
    const counted = this.place.quarter === null ? this.settings.countIn : 0;
    try {
      const percent = this.settings.percent;
      const [, , , count] = await Promise.all([
        waking,
        this.bar(this.next.index, percent),
        null,
        counted ? this.load(this.piece.count(counted, this.next.index, percent)) : null,
      ]);
      if (run !== this.run) return;
      this.time = this.ctx.currentTime + LEAD;
      if (this.next.from !== null) this.rise(run, this.time);
      if (count) this.countIn(run, count, counted, percent);
      this.begun = { asked, at: this.time };
      if (count) this.begun.at = this.queue[0].t0;
      await this.fill(run);
    } catch (error) {
      this.fail(run, error);
    }
  }

  begin() {
    const run = { stems: {} };
    for (const stem of STEMS) {
      run.stems[stem] = this.ctx.createGain();
      run.stems[stem].connect(this.gains[stem]);
    }
    this.run = run;
    clearInterval(this.timer);
    this.timer = setInterval(() => this.fill(run), 100);
    return run;
  }

  countIn(run, buffer, counted, percent) {
    const length = this.piece.countLength(counted, this.next.index);
    const quarter = this.seconds(percent);
    this.lay(run, "click", buffer, this.time, 0);
    this.queue.push({ count: true, t0: this.time, t1: this.time + length * quarter, from: 0, length, quarter, percent });
    this.time += length * quarter;
  }

  lay(run, stem, buffer, when, offset) {
    const node = this.ctx.createBufferSource();
    node.buffer = buffer;
    node.connect(run.stems[stem]);
    node.start(when, offset);
    node.onended = () => node.disconnect();
    return node;
  }

  async fill(run) {
    if (this.filling === run || run !== this.run) return;
    this.filling = run;
    try {
      while (run === this.run && this.next && this.time < this.ctx.currentTime + AHEAD) {
        const { index, pass, gap, from } = this.next;
        const percent = rung(this.settings.percent, this.settings.loop.on && this.settings.ladder, pass);
        const [bar, lead, band, click] = await this.bar(index, percent);
        if (run !== this.run) return;
        this.add(run, bar, { index, pass, gap, from, percent }, { lead, band, click });
      }
      if (run === this.run && !this.next && this.heard() > this.time + 0.05) this.end();
    } catch (error) {
      this.fail(run, error);
    } finally {
      if (this.filling === run) this.filling = null;
    }
  }

  add(run, bar, { index, pass, gap, from, percent }, buffers) {
    const quarter = this.seconds(percent);
    const into = from === null || from === undefined ? 0 : from - bar.start;
    let when = this.time + gap * quarter;
    if (when < this.ctx.currentTime + 0.005) when = this.ctx.currentTime + LEAD; // late: a rest, never a scramble
    const counts = bar.number !== 0;
    const { sound, silent } = this.settings.drop;
    const clicks = !counts || this.played % (sound + silent) < sound;
    for (const stem of STEMS) {
      if (!buffers[stem] || (stem === "click" && !clicks)) continue;
      const offset = into * quarter;
      if (offset < buffers[stem].duration) this.lay(run, stem, buffers[stem], when, offset);
    }
    const length = bar.length - into;
    this.queue.push({ index, pass, number: bar.number, t0: when, t1: when + length * quarter, from: bar.start + into, length, quarter, percent });
    const past = this.heard() - 4;
    while (this.queue.length > 2 && this.queue[1].t0 < past) this.queue.shift();
    if (counts) this.played += 1;
    this.time = when + length * quarter;
    this.next = this.piece.following(index, pass, this.settings);
    if (this.next) {
      const coming = rung(this.settings.percent, this.settings.loop.on && this.settings.ladder, this.next.pass);
      this.bar(this.next.index, coming).catch(() => {});
    }
  }

  // Go on from what is heard, with other settings, without losing the place.
  async change() {
    if (!this.playing) return;
    const old = this.run;
    const here = this.position();
    if (!here || here.count || here.over) {
      if (!here || here.over) return;
      this.halt();
      this.playing = true;
      await this.play();
      return;
    }
    const token = (this.changing = {});
    try {
      await this.bar(here.index, this.percentOf(here.pass));
    } catch (error) {
      this.fail(old, error);
      return;
    }
    if (token !== this.changing || this.run !== old || !this.playing) return;
    const when = this.ctx.currentTime + LEAD;
    const then = this.position(when);
    if (!then || then.over || then.count) return;
    this.fade(old, when);
    this.queue = this.queue.filter((entry) => entry.t0 < when);
    const last = this.queue.at(-1);
    if (last) last.t1 = Math.min(last.t1, when);
    const run = this.begin();
    this.rise(run, when);
    this.time = when;
    this.next = { index: then.index, pass: then.pass, gap: 0, from: then.at };
    if (this.played) this.played -= 1;
    await this.fill(run);
  }

  percentOf(pass) {
    return rung(this.settings.percent, this.settings.loop.on && this.settings.ladder, pass);
  }

  // A beginning in the middle of a sound makes no click.
  rise(run, when) {
    for (const stem of STEMS) {
      run.stems[stem].gain.setValueAtTime(0, when);
      run.stems[stem].gain.linearRampToValueAtTime(1, when + 0.008);
    }
  }

  fade(run, when) {
    for (const stem of STEMS) {
      const gain = run.stems[stem].gain;
      gain.setValueAtTime(1, when);
      gain.linearRampToValueAtTime(0, when + 0.012);
      setTimeout(() => run.stems[stem].disconnect(), 1000 * (when - this.ctx.currentTime) + 300);
    }
  }

  halt() {
    clearInterval(this.timer);
    if (this.run) this.fade(this.run, this.ctx.currentTime);
    this.run = null;
    this.changing = null;
    this.queue = [];
    this.playing = false;
  }

  pause() {
    const here = this.position();
    if (here && !here.count) this.place = { index: here.index, quarter: here.at };
    this.halt();
  }

  end() {
    this.halt();
    this.place = { index: this.settings.loop.bars ? this.settings.loop.bars[0] : 0, quarter: null };
    this.onend();
  }

  seek(index) {
    const playing = this.playing;
    if (playing) this.halt();
    this.place = { index, quarter: null };
    if (!playing) return this.prepare();
    const counted = this.settings.countIn;
    this.settings.countIn = 0;
    const going = this.play();
    this.settings.countIn = counted;
    return going;
  }

  fail(run, error) {
    if (run !== this.run && run) return;
    this.halt();
    this.onproblem(error);
  }
}
