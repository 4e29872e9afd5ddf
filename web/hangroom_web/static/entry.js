// What is typed into a card: read as the controller reads it, asked about as it asks, and what the
// weight makes of the stick. All of it works without contact; the controller judges again.
"use strict";
(() => {
  const page = document.querySelector("[data-inspect]");
  if (!page) return;
  const words = JSON.parse(page.dataset.inspect), { scale, slips } = words;
  const reads = new RegExp(scale.reads, "i"), decimals = scale.unit === "oz" ? 2 : 1;

  const fill = (text, values) => text.replace(/\{(\w*)\}/g, (_all, name) => values[name || "_"] ?? "");
  const typed = (g) => String(Number((g / scale.unit_g).toFixed(2)));
  const shown = (g) => `${(g / scale.unit_g).toFixed(decimals)} ${scale.unit}`;

  // Returns { g } or { fault }.
  function weight(text) {
    const found = reads.exec(text);
    if (!found) return { fault: scale.none };
    const [, marks, minus, figure, unit] = found;
    for (const mark of marks.toUpperCase().match(/[A-Z]+/g) || []) {
      if (!scale.steady.includes(mark)) return { fault: scale.marks[mark] || fill(scale.unknown, { mark }) };
    }
    const value = minus ? 0 : Number(figure.replace(",", "."));
    if (!(value > 0)) return { fault: scale.none };
    return { g: value * (unit ? scale.grams[unit.toLowerCase()] : scale.unit_g) };
  }

  // Returns what to ask about a weight, or null where it looks right.
  function slip(g, told) {
    const [least, most] = slips.meant;
    const apart = (one) => Math.abs(Math.log(one.meant / told.last));
    const near = slips.factors
      .map(([ratio, said]) => ({ meant: g / ratio, said }))
      .filter((one) => one.meant >= least * told.last && one.meant <= most * told.last)
      .sort((a, b) => apart(a) - apart(b))[0];
    const [lightest, heaviest] = told.unasked;
    const said = near ? near.said : g > heaviest ? slips.heavier : g < lightest ? slips.lighter : "";
    if (!said) return null;
    const instead = near ? typed(near.meant) : "";
    return { instead, keep: typed(g), said: fill(said, {
      typed: `${typed(g)} ${scale.unit}`, instead, weight: shown(g), last: told.said, when: told.when,
      loss: Math.round(100 * (1 - g / told.last)),
    }) };
  }

  // Returns for example "Yield 68.2 %, down 1.4 since Thu. Outside what is expected."
  function soFar(text, told) {
    const { g } = weight(text);
    if (!g || slip(g, told)) return "";
    const yield_ = fill(words.yield, { now: (100 * g / told.green).toFixed(1) });
    const down = 100 * (told.last - g) / told.green, by = Math.abs(down).toFixed(1);
    const way = down > 0 ? words.down : words.up;
    const change = fill(by === "0.0" ? words.unchanged : words.change, { yield_, way, by, since: told.when });
    const out = told.expected && (g < told.expected[0] || g > told.expected[1]);
    return out ? `${change}. ${words.outside}` : `${change}.`;
  }

  window.hangroom = { ...window.hangroom, entry: { words, fill, weight, shown, slip, soFar } };
})();
