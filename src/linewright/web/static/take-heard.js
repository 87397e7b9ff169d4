// A judged take: its recording slower at the same pitch, and in the player in place of the written
// notes, with the band.

import "./player.js";

const RATE = 44100;
const JOIN_S = 0.008;

// Longer by a factor at the same pitch: overlapping pieces, each moved to where it fits best
// (WSOLA: Verhelst and Roelands 1993, ICASSP).
export function stretch(sound, factor, rate = RATE) {
  if (Math.abs(factor - 1) < 1e-3) return sound;
  const hop = Math.round(0.023 * rate);
  const seek = Math.round(0.009 * rate);
  const out = new Float32Array(Math.round(sound.length * factor));
  const window = Float32Array.from({ length: 2 * hop }, (_, i) => 0.5 - 0.5 * Math.cos((Math.PI * i) / hop));
  const at = (i) => (i >= 0 && i < sound.length ? sound[i] : 0);
  let last = -hop;
  for (let k = -1; k * hop < out.length; k++) {
    const aim = Math.round((k * hop) / factor);
    let place = aim;
    if (k >= 0) {
      let best = -Infinity;
      const wanted = last + hop;
      for (let shift = -seek; shift <= seek; shift += 3) {
        let fit = 0;
        for (let i = 0; i < hop; i += 4) fit += at(wanted + i) * at(aim + shift + i);
        if (fit > best) [best, place] = [fit, aim + shift];
      }
      if (best <= 0) place = aim;
    }
    for (let i = 0; i < 2 * hop; i++) {
      const to = k * hop + i;
      if (to >= 0 && to < out.length) out[to] += window[i] * at(place + i);
    }
    last = place;
  }
  return out;
}

// One bar of a recording at a tempo, with a little more to lay under the next.
export function barOf(sound, map, index, percent) {
  const quarter = 60 / map.bpm;
  const bar = map.bars[index];
  const start = Math.round(RATE * (map.recording.first_beat_s + bar.start * quarter));
  const join = Math.round(JOIN_S * RATE);
  const length = Math.round(RATE * bar.length * quarter) + Math.ceil((join * percent) / 100);
  const cut = new Float32Array(length);
  const from = Math.max(0, start);
  if (from < start + length) cut.set(sound.subarray(from, start + length), from - start);
  const long = Float32Array.from(stretch(cut, 100 / percent));
  for (let i = 0; i < join && i < long.length; i++) {
    long[i] *= i / join;
    long[long.length - 1 - i] *= i / join;
  }
  const buffer = new AudioBuffer({ length: Math.max(1, long.length), numberOfChannels: 1, sampleRate: RATE });
  buffer.copyToChannel(long, 0);
  return buffer;
}

async function samplesAt(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error("the recording is not there");
  const whole = await new OfflineAudioContext(1, 1, RATE).decodeAudioData(await answer.arrayBuffer());
  const mixed = new Float32Array(whole.length);
  for (let c = 0; c < whole.numberOfChannels; c++) {
    const channel = whole.getChannelData(c);
    for (let i = 0; i < mixed.length; i++) mixed[i] += channel[i] / whole.numberOfChannels;
  }
  return mixed;
}

// The player's lead is the recording while the box is ticked.
function lend(player, box) {
  const { sound, map } = player;
  const plain = sound.load.bind(sound);
  const own = new RegExp(`^${map.sound}/lead/(\\d+)\\.wav\\?percent=(\\d+)`);
  let whole = null;
  sound.load = (address) => {
    const match = box.checked && own.exec(address || "");
    if (!match) return plain(address);
    whole ||= samplesAt(map.recording.address);
    return whole.then((samples) => barOf(samples, map, Number(match[1]), Number(match[2])));
  };
}

const place = document.querySelector("[data-recording]");
const box = place?.querySelector("[data-lead-recorded]");
const root = document.querySelector("[data-player]");

if (place) {
  const audio = place.querySelector("[data-audio]");
  place.querySelector("[data-speed]").addEventListener("change", (event) => {
    audio.preservesPitch = true;
    audio.playbackRate = Number(event.target.value) / 100;
  });
  audio.addEventListener("play", () => root?.player?.sound?.playing && root.player.pause());
  box.addEventListener("change", () => {
    const { player } = root;
    if (!player?.sound) {
      box.checked = false;
      return;
    }
    if (player.map?.recording && player.lent !== player.sound) {
      player.lent = player.sound;
      lend(player, box);
    }
    if (player.sound.playing) player.sound.change();
    else player.sound.prepare();
  });
}
