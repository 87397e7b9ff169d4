// What is played: bars and where their sound is.

import { following } from "./player-sound.js";

// A lick (or a line) as a piece of bars with sound: what the JSON map says. The bars of a line
// without end are asked for one by one.
export function pieceOf(map) {
  const query = (percent, more = "") => `?percent=${percent}${more}`;
  const rows = new Map();
  const row = (index) => {
    if (!rows.has(index)) {
      const asked = fetch(`${map.sound}/bar/${index}${map.query ? `?${map.query}` : ""}`).then(async (answer) => {
        const told = await answer.json();
        if (!answer.ok) throw new Error(told.message || answer.statusText);
        rows.set(index, told);
        return told;
      });
      asked.catch(() => rows.delete(index));
      rows.set(index, asked);
      for (const old of rows.keys()) if (rows.size > 12 && old < index - 8) rows.delete(old);
    }
    return rows.get(index);
  };
  return {
    ...map,
    rows,
    bar: (index) => (map.endless ? row(index) : map.bars[index]),
    following: (index, pass, settings) => {
      if (map.endless) return { index: index + 1, pass: 0, gap: 0 };
      const loop = settings.loop.on ? settings.loop.bars || [0, map.bars.length - 1] : null;
      return following(map.bars, index, pass, loop, map.turn);
    },
    address(stem, index, percent, settings) {
      const base = `${map.sound}/${stem}/${index}.wav`;
      const rest = map.query ? `&${map.query}` : "";
      if (stem === "lead") return base + query(percent, rest);
      if (stem === "band") return settings.band ? base + query(percent, `&style=${settings.band}${rest}`) : "";
      return settings.click ? base + query(percent, `&style=${settings.click}${rest}`) : "";
    },
    count: (bars, index, percent) =>
      `${map.sound}/count/${index}.wav${query(percent, `&style=${bars}${map.query ? `&${map.query}` : ""}`)}`,
    countLength: (bars, index) => map.count_in[index === 0 ? "first" : "later"][bars - 1],
  };
}
